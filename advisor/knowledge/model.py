"""A model ready to answer: compiled circuit, library priors, and what findings mean in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, lru_cache
from typing import Self

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.catalogue import Test, Withheld
from advisor.knowledge.compiled import Compiled, supply_volts
from advisor.knowledge.documents import Schematic
from advisor.knowledge.learned import Learned
from advisor.knowledge.library import Instrument
from advisor.knowledge.mirrors import Mirror, mirror_of, mirrored_tests
from advisor.knowledge.predicted import Mirrored, Predicted, Reach
from advisor.knowledge.prevalence import Vehicle, notice_days, place_events, prevalence
from advisor.knowledge.readings import WANDERING, floating, full_scale
from advisor.knowledge.sections import sections
from advisor.knowledge.supply import COARSE, POST, Axis, Supply, spread_of_supply, supply_axis
from advisor.knowledge.tabulated import Prediction
from advisor.knowledge.telling import tells
from advisor.knowledge.weighing import Weighing
from advisor.knowledge.wiring import Wiring, cause_part, severity_cause
from advisor.network.engine import Evidence, IntakeShares, Posterior, symptom_likelihood, symptom_unsolved
from advisor.network.findings import Finding, SymptomFinding
from advisor.network.linked import with_shared
from advisor.network.nodes import Network, as_nodes, restricted
from advisor.network.priors import Prior, prior
from advisor.network.worlds import AS_DESIGNED, ELSEWHERE, NONE, SPECIALS, UNLISTED, Worlds

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

PRIORS = "handbook-1"
_ROOT_MASS = 0.05
"""Root mass of "as designed" and of "unlisted"; shares after a complaint do not depend on it."""
_KEEP_PRIORS = 64
_KEEP_RELEASES = 4
MOVED = 0.04
"""Change of a reading by a fault, as a share of full supply or the usual current, that a loose contact shows as a
reading that jumps about: judgement, no source."""
SUPPLY_STEP = 0.004
"""Supplies are rounded to this share of the rest voltage where outcomes are predicted, so that few tables are made."""


@dataclass(frozen=True)
class Marginals:
    """What findings leave of the special hypotheses and of each cause, with truncation bounds, shape (C,) each."""

    no_fault: float
    as_designed: float
    unlisted: float
    causes: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, eq=False)  # known by identity: comparing its arrays would say nothing
class Model:
    """One circuit's compiled knowledge with the library's priors.

    Attributes:
        schematic: What the files say.
        wiring: Elements, items and causes.
        compiled: Predictions of every test under every hypothesis.
        knowledge: Content hash of every file read, "sha256:...".
        priors: Name of the release of priors.
        factors: By what the release multiplies the library's rate of each cause, 1 where it says nothing.
        learned: What it says beside rates.
    """

    schematic: Schematic
    wiring: Wiring
    compiled: Compiled
    knowledge: str
    priors: str = PRIORS
    factors: Mapping[str, float] = field(default_factory=dict)
    learned: Learned = field(default_factory=Learned)

    def with_priors(self, name: str, factors: Mapping[str, float], learned: Learned | None = None) -> Self:
        """The same knowledge under another release of priors; what was computed without priors is kept.

        The last few are kept too, so that asking again gives the same model.  Other slips mix readings anew.

        Raises:
            KeyError: a factor is of a cause that this circuit does not have.
            ValueError: a factor is not above zero.
        """
        if strangers := factors.keys() - set(self.compiled.causes):
            raise KeyError(", ".join(sorted(strangers)))
        if not all(0.0 < factor < np.inf for factor in factors.values()):
            raise ValueError("a factor of a rate must be above zero and finite")
        known, beside = self._releases.get(name), self.learned if learned is None else learned
        if known is None or (known.factors, known.learned) != (factors, beside):
            known = replace(self, priors=name, factors=dict(factors), learned=beside)
            own = {"priors", "factors", "learned", "_factors", "_priors", "_releases"}
            if beside.slips == self.learned.slips:
                known.__dict__.update({key: value for key, value in self.__dict__.items() if key not in own})
            while len(self._releases) >= _KEEP_RELEASES:
                self._releases.pop(next(iter(self._releases)), None)
            self._releases[name] = known
        return known

    @cached_property
    def _releases(self) -> dict[str, Self]:
        return {}

    @property
    def cause_ids(self) -> tuple[str, ...]:
        """Ids of all causes, PART/MODE."""
        return self.compiled.causes

    @cached_property
    def tests(self) -> Mapping[str, Test]:
        """Proposable tests by id."""
        return {test.id: test for test in self.compiled.tests}

    @cached_property
    def positions(self) -> Mapping[str, int]:
        """Place of every test in the order of the columns, by its id."""
        return {id: position for position, id in enumerate(self.tests)}

    @property
    def withheld(self) -> tuple[Withheld, ...]:
        """Tests that are never proposed."""
        return self.compiled.withheld

    @cached_property
    def cause_parts(self) -> tuple[str, ...]:
        """Parts that have causes, in schematic order."""
        return tuple(dict.fromkeys(cause.part for cause in self.wiring.causes))

    @cached_property
    def sections(self) -> Mapping[str, str]:
        """Title of the section of every part."""
        return sections(self.wiring)

    @cached_property
    def supply_volts(self) -> float:
        """The battery's rest voltage [V]."""
        return supply_volts(self.schematic)

    def instrument(self, test: Test) -> Instrument:
        """The instrument of a test, its error model; a jumper is read by eye."""
        tools = self.schematic.library.instruments
        return self.learned.of(tools["voltmeter"] if test.unit == "V" else tools[test.instrument])

    def full(self, test: Test) -> float:
        """The reading that stands for full supply, full light, or the usual current."""
        return full_scale(test, self.supply_volts)

    @cached_property
    def axis(self) -> Axis:
        """The states that all readings of a case share."""
        return supply_axis(self.supply_volts, self.schematic.library.instruments["voltmeter"])

    @cached_property
    def predicted(self) -> Mapping[str, Prediction]:
        """Predictions of every test by its id; the arrays that they were made from may leave memory then."""
        found = {test.id: self._predicted(i, test) for i, test in enumerate(self.compiled.tests)}
        self.compiled.let_go()
        return found

    def mirrored(self, test: str) -> Mirrored | None:
        """What a test shows with its connector read from the other side; None where that makes no difference."""
        found = self.predicted[test]
        return found.mirrored if isinstance(found, Predicted) else None

    def either_side(self, test: str, belief: Floats, states: Floats) -> tuple[Floats, Floats]:
        """P(outcome) of a test read rightly, and with its connector mirrored, shape (O,) each.

        Raises:
            KeyError: mirroring makes no difference to it.
        """
        found = self.predicted[test]
        if not isinstance(found, Predicted) or found.mirrored is None:
            raise KeyError(test)
        at = self.axis.middle(states)
        return found.expected(belief, *at), found.mirrored.make().expected(belief, *at)

    def _predicted(self, column: int, test: Test) -> Predicted:
        seen = [self.compiled.value[:, column], self.compiled.spread[:, column], self._jumps(column)]
        bent = float(self.compiled.bend[column]) if len(self.compiled.bend) else 0.0
        found = self._predicting(test, np.column_stack(seen), bent)
        mirror, library = mirror_of(test, self.wiring), self.schematic.library
        if mirror is None or library.mirrored is None or not self.compiled.mirrored.size:
            return found
        make = cache(lambda: self._turned(test, mirror))
        return replace(found, mirrored=Mirrored(mirror.connector, library.mirrored.chance, make))

    def _predicting(self, test: Test, seen: Floats, bent: float) -> Predicted:
        return Predicted.of(test, self.instrument(test), self.full(test), seen, self._reach(test), bent, self.quiet)

    def _turned(self, test: Test, mirror: Mirror) -> Predicted:
        """What a test shows at the mirrored cavities; one that holds nothing is a wire that hangs in the air."""
        if mirror.observed is None:
            nothing = floating(self.instrument(test), self.full(test))
            return self._predicting(test, np.tile(nothing, (len(self.compiled.members), 1)), 0.0)
        column = self._turned_columns[test.id]
        value, spread, jumps = self.compiled.mirrored[:, :, column]
        seen = np.column_stack([value, spread, self._loosened(value, jumps, test)])
        return self._predicting(
            replace(test, observed=mirror.observed), seen, float(self.compiled.mirrored_bend[column])
        )

    @cached_property
    def _turned_columns(self) -> Mapping[str, int]:
        return {test.id: i for i, test in enumerate(mirrored_tests(self.compiled.tests, self.wiring))}

    def _jumps(self, column: int) -> Floats:
        return self._loosened(
            self.compiled.value[:, column], self.compiled.jumps[:, column], self.compiled.tests[column]
        )

    def _loosened(self, value: Floats, jumps: Floats, test: Test) -> Floats:
        """Chance that a test's reading never settles, loose contacts that change it included, shape (H,)."""
        if test.unit not in WANDERING:
            return jumps
        changed = np.abs(value - value[NONE]) > MOVED * self.full(test)
        chance: Floats = 1.0 - (1.0 - jumps) * (1.0 - self._loose * changed)
        return chance

    @cached_property
    def _loose(self) -> Floats:
        """Chance that a hypothesis' loosest fault makes a reading jump, shape (H,)."""
        loose = np.array([cause.mode.loose for cause in self.wiring.causes] + [0.0])
        most: Floats = loose[self.compiled.members].max(axis=1)
        return most

    @cached_property
    def quiet(self) -> Floats:
        """Chance that no fault of a hypothesis shows while somebody tests, shape (H,): all of them come and go.

        As many loose contacts do not move during a visit as make a reading jump.
        """
        loose = np.array([cause.mode.loose for cause in self.wiring.causes] + [1.0])
        quiet: Floats = loose[self.compiled.members].prod(axis=1)
        quiet[[NONE, AS_DESIGNED, UNLISTED]] = 0.0, 0.0, ELSEWHERE
        return quiet

    def _reach(self, test: Test) -> Reach:
        if test.id in self.battery_tests:
            return "posts"
        return "ground" if test.unit == "V" and test.observed.black == self.schematic.reference else "apart"

    def supply(self, states: Floats) -> Supply | None:
        """What the readings of a case stand on at a distribution of the shared states, shape (G,), if on anything."""
        scale, spread = self.axis.middle(states)
        astray = float(states[self.axis.black != POST].sum())
        return Supply(scale * self.supply_volts, spread * self.supply_volts, astray)

    @cached_property
    def worlds(self) -> Worlds:
        """The network's arrays: outcome probabilities from predicted readings, before the supply is known."""
        return self._worlds(1.0, self._usual_spread)

    def _worlds(self, scale: float, spread: float) -> Worlds:
        blocks = [predicted.outcomes(scale, spread) for predicted in self.predicted.values()]
        return Worlds(
            self.compiled.causes,
            cause_part(self.wiring),
            severity_cause(self.wiring),
            self.compiled.members,
            self.compiled.severities,
            tuple(test.id for test in self.compiled.tests),
            tuple(tuple(o.id for o in test.outcomes) for test in self.compiled.tests),
            np.concatenate(blocks, axis=1) if blocks else np.zeros((len(self.compiled.members), 0)),
            tuple(self.schematic.symptoms),
            self.compiled.presence,
            self.quiet,
        )

    def worlds_at(self, states: Floats) -> Worlds:
        """The network's arrays at what is known of the supply, shape (G,); the last few are kept.

        The supply is taken as independent of the hypothesis here, by its median and spread.
        """
        scale, spread = self.axis.middle(states)
        halvings = max(round(-2.0 * np.log2(spread / self._usual_spread)), 0)
        return self._worlds_at(round(scale / SUPPLY_STEP), halvings)

    def worlds_given(self, states: Floats, findings: Sequence[Finding]) -> Worlds:
        """The same given what was found, where tests share more than the hypothesis; here they do not."""
        return self.worlds_at(states)

    def marginals(self, belief: Posterior, findings: Sequence[Finding]) -> Marginals:
        """What a belief says of each cause."""
        none, designed, unlisted = belief.weights[[NONE, AS_DESIGNED, UNLISTED]].tolist()
        return Marginals(none, designed, unlisted, self.worlds.with_cause(belief.weights), belief.low, belief.high)

    @cached_property
    def _worlds_at(self) -> Callable[[int, int], Worlds]:
        return lru_cache(maxsize=4)(self._worlds_by_step)

    def _worlds_by_step(self, step: int, halvings: int) -> Worlds:
        if (step * SUPPLY_STEP, halvings) == (1.0, 0):
            return self.worlds
        return self._worlds(step * SUPPLY_STEP, self._usual_spread * 2.0 ** (-halvings / 2.0))

    @cached_property
    def _usual_spread(self) -> float:
        return spread_of_supply(self.schematic.library.instruments["voltmeter"])

    def prevalence(self, vehicle: Vehicle) -> Floats:
        """Expected faults of each severity present now, x, shape (V,)."""
        severities = slice(SPECIALS, SPECIALS + len(self.worlds.severity_cause))  # singles come first, in this order
        library = prevalence(self.wiring, notice_days(self.schematic, self.compiled.presence[severities]), vehicle)
        return library * self._factors[self.worlds.severity_cause]

    @cached_property
    def _factors(self) -> Floats:
        """Of each cause, shape (C,)."""
        return np.array([self.factors.get(cause, 1.0) for cause in self.compiled.causes])

    def prior(self, vehicle: Vehicle) -> Prior:
        """The root distribution for a vehicle's age and hours; the last few are kept."""
        found = self._priors.get(vehicle)
        if found is None:
            found = self.prior_of(self.worlds, vehicle)
            if len(self._priors) >= _KEEP_PRIORS:
                self._priors.clear()
            self._priors[vehicle] = found
        return found

    def prior_of(self, worlds: Worlds, vehicle: Vehicle) -> Prior:
        """The root distribution over hypotheses of this circuit's causes, these or more."""
        x, events = self.prevalence(vehicle), place_events(self.wiring)
        needs = self.compiled.needs if len(self.compiled.needs) else None
        return prior(worlds, x, as_designed=_ROOT_MASS, unlisted=_ROOT_MASS, events=events, needs=needs)

    @cached_property
    def _priors(self) -> dict[Vehicle, Prior]:
        return {}

    @cached_property
    def battery_tests(self) -> frozenset[str]:
        """Tests that read the battery at its posts."""
        posts = (self.wiring.supply, self.schematic.reference)
        return frozenset(t.id for t in self.compiled.tests if (t.observed.red, t.observed.black) == posts)

    @property
    def intake(self) -> IntakeShares:
        """Shares of none, as designed and unlisted after a complaint."""
        intake = self.schematic.library.intake
        return IntakeShares(intake.no_fault_share, intake.as_designed_share, intake.unlisted_share)

    @cached_property
    def coarse_axis(self) -> Axis:
        """The same states as few, for a network of tables."""
        return supply_axis(self.supply_volts, self.schematic.library.instruments["voltmeter"], *COARSE)

    def network(self, root: Prior, kept: Ints) -> Network:
        """The network of some hypotheses with what findings share.

        Args:
            root: Prior of all hypotheses.
            kept: Which of them, in order.
        """
        flat, axis = as_nodes(*restricted(self.worlds, root, kept), self.intake), self.coarse_axis
        links = {id: predicted.linked(axis, kept) for id, predicted in self.predicted.items()}
        return with_shared(flat, links, axis.prior, axis.names(self.supply_volts), self.quiet[kept])

    def complaint(self, root: Prior, symptom: int) -> Floats:
        """P(symptom reported | hypothesis) with selection, shape (H,)."""
        return symptom_likelihood(self.worlds, root, self.intake, symptom)

    def evidence(self, findings: Sequence[Finding], root: Prior, axis: Axis | None = None) -> list[Evidence]:
        """Each finding as a likelihood over the hypotheses; a declined test is none, what is repeated is one.

        Args:
            findings: What was reported, read or seen.
            root: Prior of the hypotheses, for what a complaint says of sound vehicles.
            axis: Shared states, the model's own unless given.

        Raises:
            RequestError: a finding names a symptom, test or outcome that this circuit does not have.
        """
        held = Weighing(self.predicted, self._reported(root), axis or self.axis, self.battery_tests)
        return held.evidence(findings)

    def _reported(self, root: Prior) -> Callable[[SymptomFinding], Evidence]:
        symptoms = {s: i for i, s in enumerate(self.worlds.symptoms)}

        def reported(said: SymptomFinding) -> Evidence:
            """A complaint, or its absence, as evidence."""
            index = symptoms[said.symptom]
            likelihood = self.complaint(root, index)
            if not said.present:
                return Evidence(1.0 - likelihood, 1.0)
            otherwise = float(self.compiled.otherwise[index]) if len(self.compiled.otherwise) else 1.0
            unsolved = symptom_unsolved(root, index, float(likelihood[NONE]), otherwise)
            if said.comes_and_goes is not None:  # at most 1, so that the bound still holds
                likelihood = likelihood * tells(self._loose, comes_and_goes=said.comes_and_goes)
            return Evidence(likelihood, 1.0, unsolved=unsolved)

        return reported
