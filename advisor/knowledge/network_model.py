"""From a discrete network and its roles to a model: fault sets as states of nodes, answers by the tree of buckets.

What is decided rests on the likeliest fault sets; shares of causes come from the whole network.  Findings need not be
independent given a fault set, as other nodes stand between: each is weighed given those before it, which is exact.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.cache import content_hash
from advisor.knowledge.checking_roles import check_roles
from advisor.knowledge.compiled import Compiled
from advisor.knowledge.likeliest import likeliest_sets
from advisor.knowledge.model import Marginals
from advisor.knowledge.node_chances import ROOT_MASS, mask, odds_of, presence_of, root_of, shown, states_of, whole
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.roles import NodeTest, Roles
from advisor.knowledge.supply import Axis
from advisor.knowledge.table_model import TableModel, as_test, refused, unwired, withheld
from advisor.knowledge.weighing import weighed
from advisor.knowledge.wiring import cause_part
from advisor.network.engine import Evidence, IntakeShares, Posterior
from advisor.network.findings import Finding, OutcomeFinding, ReadingFinding, RepairFinding, SymptomFinding
from advisor.network.priors import Prior
from advisor.network.tree.compiled import Tree, compile_tree
from advisor.network.tree.evidence import Seen
from advisor.network.tree.families import Discrete
from advisor.network.tree.running import log_evidence, possible_posteriors
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED, Worlds

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_KEEP = 16


@dataclass(frozen=True, eq=False, kw_only=True)  # known by identity, as every model
class NetworkModel(TableModel):
    """A model of a network's nodes.

    Attributes:
        roles: What its nodes are.
        tree: The compiled network.
        root: Prior of the fault sets.
        reported: P(symptom shows) over the whole network, shape (S,).
        states: Which states each part's node may have under each hypothesis, 0 or 1, shape (H, D), by node.
    """

    roles: Roles
    tree: Tree
    root: Prior
    reported: Floats
    states: Mapping[str, Floats]

    def prior_of(self, worlds: Worlds, vehicle: Vehicle) -> Prior:
        """The network's own root distribution, whatever the vehicle's age."""
        return self.root

    @property
    def intake(self) -> IntakeShares:
        """Shares after a complaint; how often nothing is wrong is for the network to say."""
        intake = self.schematic.library.intake
        return IntakeShares(0.0, intake.as_designed_share, intake.unlisted_share)

    def complaint(self, root: Prior, symptom: int) -> Floats:
        """P(symptom reported | hypothesis), shape (H,): as the network says, the other two by their shares."""
        given: Floats = self.compiled.presence[:, symptom].copy()
        shares, listed = self.intake.all[[AS_DESIGNED, UNLISTED]], (1.0 - 2.0 * ROOT_MASS) * self.reported[symptom]
        given[[AS_DESIGNED, UNLISTED]] = np.minimum(shares / (1.0 - shares.sum()) * listed / ROOT_MASS, 1.0)
        return given

    def evidence(self, findings: Sequence[Finding], root: Prior, axis: Axis | None = None) -> list[Evidence]:
        """Each finding as a likelihood over the hypotheses, given those before it since the last repair.

        Raises:
            RequestError: a finding names a symptom, test or outcome that this network does not have.
        """
        steps = self._steps(findings)
        result, before = [], self._kept_logs({})
        for step, earlier in zip(steps, [None, *steps], strict=False):
            if earlier is None or step.stretch != earlier.stretch:
                before = self._kept_logs({})
            after = self._kept_logs(step.seen)
            result.append(self._weighed(step.finding, _ratio(after, before), root))
            before = after
        return result

    def _weighed(self, finding: Finding, given: Floats, root: Prior) -> Evidence:
        """A finding, from P(it | hypothesis, those before it), shape (H,)."""
        given[AS_DESIGNED] = given[NONE]
        if isinstance(finding, SymptomFinding):
            said = self.complaint(root, list(self.roles.symptoms).index(finding.symptom))[[AS_DESIGNED, UNLISTED]]
            given[[AS_DESIGNED, UNLISTED]] = said if finding.present else 1.0 - said
            return Evidence(given, 1.0)
        assert isinstance(finding, OutcomeFinding)
        given[UNLISTED] = 1.0 / len(self.roles.tests[finding.test].outcomes)
        return Evidence.read(given, self.quiet, np.full(len(given), NONE), 1.0)

    def worlds_given(self, states: Floats, findings: Sequence[Finding]) -> Worlds:
        """The network's arrays with what tests would show given what was found since the last repair."""
        steps = self._steps(findings)
        repairs = sum(isinstance(finding, RepairFinding) for finding in findings)
        if not steps or steps[-1].stretch != repairs:
            return self.worlds
        given = whole(self._shown(steps[-1].seen), self.chances)
        blocks = [self._special_rows(given[id]) for id in self.tests]
        return replace(self.worlds, likelihood=np.concatenate(blocks, axis=1)) if blocks else self.worlds

    def _special_rows(self, block: Floats) -> Floats:
        block = block.copy()
        block[AS_DESIGNED] = block[NONE]
        share = self.quiet[UNLISTED]
        block[UNLISTED] = (1.0 - share) / block.shape[1] + share * block[NONE]
        return block

    def marginals(self, belief: Posterior, findings: Sequence[Finding]) -> Marginals:
        """Shares of causes over the whole network, fault sets that are not enumerated included.

        They are zero where the network cannot give the findings, which leaves them to what is unlisted.
        After a repair they are those of the enumerated sets, with bounds.
        """
        if any(isinstance(finding, RepairFinding) for finding in findings):
            return super().marginals(belief, findings)
        steps = self._steps(findings)
        seen = Seen(self.tree.network, 1, likelihoods=_rows(steps[-1].seen if steps else {}, 1))
        nodes = list(dict.fromkeys(part.node for part in self.roles.parts.values()))
        found = possible_posteriors(self.tree, seen, nodes)
        listed = (1.0 - 2.0 * ROOT_MASS) * float(np.exp(found.log_evidence[0]))
        joint = belief.weights * belief.evidence
        total = listed + float(joint[[AS_DESIGNED, UNLISTED]].sum())
        shares = np.array(
            [
                found.by_name[part.node][0] @ mask(self.tree.network, part.node, mode.states) * listed / total
                for part in self.roles.parts.values()
                for mode in part.modes.values()
            ]
        )
        none, designed, unlisted = (joint[:SPECIALS] / total).tolist()
        return Marginals(none, designed, unlisted, shares, shares, shares)

    def _steps(self, findings: Sequence[Finding]) -> list[_Step]:
        """What each finding that is evidence adds to what its stretch has shown; complaints count for the first."""
        problems, steps, stretch = [], [], 0
        seen: dict[str, Floats] = {}
        repairs = [i for i, finding in enumerate(findings) if isinstance(finding, RepairFinding)]
        for position, finding, _ in weighed(findings):
            now = sum(i < position for i in repairs)
            if now != stretch:
                seen, stretch = {}, now
            try:
                node, chance = self._likelihood(finding)
            except KeyError as error:
                problems.append(RequestProblem(f"#/findings/{position}", f"unknown in this circuit: {error.args[0]}"))
                continue
            seen = {**seen, node: seen.get(node, 1.0) * chance}
            steps.append(_Step(finding, stretch, seen))
        if problems:
            raise RequestError(problems)
        return steps

    def _likelihood(self, finding: Finding) -> tuple[str, Floats]:
        """A finding's node, and 1 for each of its states that gives it; KeyError for what is unknown."""
        network = self.tree.network
        if isinstance(finding, SymptomFinding):
            symptom = self.roles.symptoms[finding.symptom]
            shows = mask(network, symptom.node, symptom.shows)
            return symptom.node, shows if finding.present else 1.0 - shows
        if isinstance(finding, ReadingFinding):
            raise KeyError(f"reading of test {finding.test}, which is answered with an outcome")
        assert isinstance(finding, OutcomeFinding)
        test = self.roles.tests[finding.test]
        if finding.outcome not in test.outcomes:
            raise KeyError(f"outcome {finding.outcome} of test {finding.test}")
        return test.node, mask(network, test.node, test.outcomes[finding.outcome].states)

    def _kept_logs(self, seen: Mapping[str, Floats]) -> Floats:
        """Log P(hypothesis, what was seen), shape (H,); the last few are kept."""
        key = tuple((node, given.tobytes()) for node, given in sorted(seen.items()))
        found = self._logs.get(key)
        if found is None:
            found = log_evidence(self.tree, self._with(seen))
            self._logs[key] = found
            for oldest in list(self._logs)[:-_KEEP]:
                self._logs.pop(oldest, None)
        return found

    @cached_property
    def _logs(self) -> dict[tuple[tuple[str, bytes], ...], Floats]:
        return {}

    def _with(self, seen: Mapping[str, Floats]) -> Seen:
        """Every hypothesis with what was seen."""
        count = len(self.compiled.members)
        return Seen(self.tree.network, count, likelihoods=self.states).also(_rows(seen, count))

    def _shown(self, seen: Mapping[str, Floats]) -> dict[str, Floats]:
        """P(outcome | hypothesis, what was seen) of every test, zeros where that cannot be, shape (H, O)."""
        return shown(self.tree, self._with(seen), self.roles)


@dataclass(frozen=True)
class _Step:
    """A finding, the number of repairs before it, and what its stretch has shown with it: likelihoods by node."""

    finding: Finding
    stretch: int
    seen: Mapping[str, Floats]


def network_model(roles: Roles, network: Discrete, hypotheses: int) -> NetworkModel:
    """Make a model of a network, of about `hypotheses` fault sets at most.

    Args:
        roles: What its nodes are.
        network: The network.
        hypotheses: About how many fault sets.

    Raises:
        KnowledgeError: the roles name a node or state that the network does not have; each has its address.
        NetworkTooLargeError: the network is too large.
    """
    check_roles(roles, network)
    began = time.perf_counter()
    tree = compile_tree(network)
    wiring = unwired(roles.schematic)
    index = {cause.id: number for number, cause in enumerate(wiring.causes)}
    part = cause_part(wiring)
    odds = odds_of(tree, roles)
    members = likeliest_sets(odds, part, hypotheses)
    states = states_of(roles, network, members)
    seen = Seen(network, len(members), likelihoods=states)
    logs = log_evidence(tree, seen)
    presence = presence_of(tree, seen, roles)
    chances = whole(shown(tree, seen, roles), shown(tree, Seen(network, 1), roles))
    tests = tuple(
        as_test(t, roles.conditions[t.condition], chances[t.id][NONE].tolist(), roles.schematic.places)
        for t in _offered(roles)
    )
    compiled = Compiled(
        tests=tests,
        withheld=tuple(withheld(roles.tests.values(), roles.schematic.places)),
        causes=tuple(index),
        members=members,
        severities=np.where(members[:, :, None] >= 0, members[:, :, None] + np.arange(2), 0),
        value=np.zeros((len(members), 0)),
        spread=np.zeros((len(members), 0)),
        jumps=np.zeros((len(members), 0)),
        presence=presence,
        jumper_amps=np.zeros((len(members), len(tests))),
        seconds={"fault sets and their chances": time.perf_counter() - began},
    )
    root = root_of(tree, roles, logs, members)
    return NetworkModel(
        roles.schematic,
        wiring,
        compiled,
        content_hash(roles.schematic.files),
        chances=chances,
        roles=roles,
        tree=tree,
        root=root,
        reported=presence_of(tree, Seen(network, 1), roles)[0],
        states=states,
    )


def _rows(seen: Mapping[str, Floats], count: int) -> dict[str, Floats]:
    return {node: np.tile(given, (count, 1)) for node, given in seen.items()}


def _ratio(after: Floats, before: Floats) -> Floats:
    """P(finding | hypothesis, those before), zero where they cannot be, shape (H,)."""
    known = np.isfinite(before)
    ratio: Floats = np.minimum(np.exp(np.where(known, after, -np.inf) - np.where(known, before, 0.0)), 1.0)
    return ratio


def _offered(roles: Roles) -> list[NodeTest]:
    return [test for test in roles.tests.values() if not refused(test, roles.schematic.places)]
