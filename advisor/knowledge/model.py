"""A model ready to answer: compiled circuit, library priors, and what findings mean in it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.catalogue import Test, Withheld
from advisor.knowledge.compiled import Compiled, supply_volts
from advisor.knowledge.documents import Schematic
from advisor.knowledge.library import Instrument
from advisor.knowledge.prevalence import Vehicle, notice_days, place_events, prevalence
from advisor.knowledge.readings import chances, display_cell, full_scale, reading, sharpest, strayed, unlisted
from advisor.knowledge.sections import sections
from advisor.knowledge.supply import at_supply, measured_volts
from advisor.knowledge.wiring import Wiring, cause_part, severity_cause
from advisor.network.engine import Evidence, IntakeShares, symptom_likelihood, symptom_unsolved
from advisor.network.findings import DeclinedFinding, Finding, OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.priors import Prior, prior
from advisor.network.worlds import NONE, SPECIALS, UNLISTED, Worlds

Floats = NDArray[np.float64]

PRIORS = "handbook-1"
_ROOT_MASS = 0.05
"""Root mass of "as designed" and of "unlisted"; shares after a complaint do not depend on it."""
_KEEP_PRIORS = 64


@dataclass(frozen=True, eq=False)  # known by identity: comparing its arrays would say nothing
class Model:
    """One circuit's compiled knowledge with the library's priors.

    Attributes:
        schematic: What the files say.
        wiring: Elements, items and causes.
        compiled: Predictions of every test under every hypothesis.
        knowledge: Content hash of every file read, "sha256:...".
        priors: Name of the release of priors.
    """

    schematic: Schematic
    wiring: Wiring
    compiled: Compiled
    knowledge: str
    priors: str = PRIORS

    @cached_property
    def tests(self) -> Mapping[str, Test]:
        """Proposable tests by id."""
        return {test.id: test for test in self.compiled.tests}

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
        return tools["voltmeter"] if test.unit == "V" else tools[test.instrument]

    def full(self, test: Test) -> float:
        """The reading that stands for full supply, full light, or the usual current."""
        return full_scale(test, self.supply_volts)

    @cached_property
    def worlds(self) -> Worlds:
        """The network's arrays: outcome probabilities from predicted readings."""
        blocks = [self._outcomes(i, test) for i, test in enumerate(self.compiled.tests)]
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
        )

    def _outcomes(self, column: int, test: Test) -> Floats:
        tool, full = self.instrument(test), self.full(test)
        block = chances(self.compiled.value[:, column], self.compiled.spread[:, column], test, tool, full)
        anything = np.array([strayed((o.low, o.high), tool, full) for o in test.outcomes])
        if test.kind == "inspect":  # an unlisted fault may well be seen, or lie where nobody looks
            anything = np.full(2, 0.5)
        block[UNLISTED] = unlisted(block[0], anything)
        normal: Floats = block / block.sum(axis=1, keepdims=True)
        return normal

    def prevalence(self, vehicle: Vehicle) -> Floats:
        """Expected faults of each severity present now, x, shape (V,)."""
        severities = slice(SPECIALS, SPECIALS + len(self.worlds.severity_cause))  # singles come first, in this order
        return prevalence(self.wiring, notice_days(self.schematic, self.compiled.presence[severities]), vehicle)

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

    @cached_property
    def _at_volts(self) -> Callable[[float], Model]:
        meter = self.schematic.library.instruments["voltmeter"]
        posts = next(i for i, test in enumerate(self.compiled.tests) if test.id in self.battery_tests)

        def at_volts(volts: float) -> Model:
            """The same circuit with this voltage measured at the posts."""
            return replace(self, compiled=at_supply(self.compiled, volts, posts, meter))

        return lru_cache(maxsize=4)(at_volts)

    def at_supply_of(self, findings: Sequence[Finding]) -> Model:
        """The model by which other readings are judged: at the supply that somebody has read, if anybody has."""
        volts = measured_volts(findings, self.battery_tests)
        return self if volts is None else self._at_volts(volts)

    @property
    def intake(self) -> IntakeShares:
        """Shares of none, as designed and unlisted after a complaint."""
        intake = self.schematic.library.intake
        return IntakeShares(intake.no_fault_share, intake.as_designed_share, intake.unlisted_share)

    def evidence(self, findings: Sequence[Finding], root: Prior) -> list[Evidence]:
        """Each finding as a likelihood over the hypotheses; a declined test is none.

        Raises:
            RequestError: a finding names a symptom, test or outcome that this circuit does not have.
        """
        problems, result, later = [], [], self.at_supply_of(findings)
        for position, finding in enumerate(findings):
            tested = isinstance(finding, OutcomeFinding | ReadingFinding) and finding.test not in self.battery_tests
            try:
                if not isinstance(finding, DeclinedFinding):
                    result.append((later if tested else self)._one(finding, root))
            except KeyError as error:
                problems.append(RequestProblem(f"#/findings/{position}", f"unknown in this circuit: {error.args[0]}"))
        if problems:
            raise RequestError(problems)
        return result

    def _one(self, finding: SymptomFinding | OutcomeFinding | ReadingFinding, root: Prior) -> Evidence:
        if isinstance(finding, SymptomFinding):
            index = {s: i for i, s in enumerate(self.worlds.symptoms)}[finding.symptom]
            likelihood = symptom_likelihood(self.worlds, root, self.intake, index)
            if not finding.present:
                return Evidence(1.0 - likelihood, 1.0)
            otherwise = float(self.compiled.otherwise[index]) if len(self.compiled.otherwise) else 1.0
            unsolved = symptom_unsolved(root, index, float(likelihood[NONE]), otherwise)
            return Evidence(likelihood, 1.0, unsolved=unsolved)
        if isinstance(finding, OutcomeFinding):
            likelihood = self.worlds.likelihood[:, self.worlds.column_of[finding.test, finding.outcome]]
            test = self.tests[finding.test]
            chosen = next(o for o in test.outcomes if o.id == finding.outcome)
            return Evidence(likelihood, 1.0, self._slipped(test, (chosen.low, chosen.high)))
        return self._reading(finding)

    def _slipped(self, test: Test, cell: tuple[float, float]) -> float:
        """P(slip, reading in cell): the part of a likelihood that no hypothesis has a say in."""
        if test.kind == "inspect":
            return 0.0  # what is seen by mistake is in the chance itself
        tool = self.instrument(test)
        return tool.slip * strayed(cell, tool, self.full(test))

    def _reading(self, finding: ReadingFinding) -> Evidence:
        test = self.tests[finding.test]
        column = list(self.tests).index(finding.test)
        tool, full = self.instrument(test), self.full(test)
        cell = display_cell(finding.value, tool)
        value, spread = self.compiled.value[:, column], self.compiled.spread[:, column]
        likelihood = reading(value, spread, cell, tool, full)
        likelihood[UNLISTED] = unlisted(likelihood[0], np.array(strayed(cell, tool, full)))
        best = sharpest(finding.value, float(spread.min()), tool)
        return Evidence(likelihood, max(float(likelihood.max()), best), self._slipped(test, cell))
