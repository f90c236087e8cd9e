"""Odd vehicles that can be tested and repaired: readings and complaints come from solved circuits, not from tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import reduce

import numpy as np
from bench.policy_walk import Repaired
from twin_oddities import OddTwin
from twin_readings import Technician
from twin_vehicles import Fleet

from advisor.circuit.netlist import Change
from advisor.decision.case import BAD_REPAIR
from advisor.decision.complaint import Complaint
from advisor.knowledge.catalogue import Test
from advisor.network.findings import Finding, OutcomeFinding, SymptomFinding
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED

FLEETS = 5
"""Fleets of each complaint, each with rates of its own."""


@dataclass(frozen=True, eq=False)
class Shop:
    """N odd vehicles of one complaint, one technician, and what was read on them so far by whatever policy.

    Attributes:
        complaint: What the policies believe.
        symptom: The complaint.
        technician: Reads tests on them; works on the fleet that it holds.
        fleet: The vehicles as they came.
        luck: Uniform number for each repair on each vehicle: a bad part below `BAD_REPAIR`, shape (N, R).
        read: Findings by vehicle, test and the repairs that had changed it.
    """

    complaint: Complaint
    symptom: str
    technician: Technician
    fleet: Fleet
    luck: np.ndarray
    read: dict[tuple[int, int, tuple[int, ...]], Finding] = field(default_factory=dict)

    @staticmethod
    def of(complaint: Complaint, symptom: str, count: int, rng: np.random.Generator) -> Shop:
        """Draw the vehicles."""
        model = complaint.bench.model
        twins = [OddTwin(model, rng) for _ in range(FLEETS)]
        sizes = np.diff(np.linspace(0, count, FLEETS + 1).astype(int)).tolist()
        fleet = reduce(Fleet.joined, [t.fleet(symptom, n, rng) for t, n in zip(twins, sizes, strict=True)])
        luck = rng.random((count, len(complaint.problem.repairs.price)))
        return Shop(complaint, symptom, Technician(twins[0], fleet, rng), fleet, luck)

    @property
    def twin(self) -> OddTwin:
        """Solves the vehicles."""
        twin: OddTwin = self.technician.twin
        return twin


class Undescribed:
    """The vehicles of a shop under one policy: repairs change these, not those of the next policy."""

    def __init__(self, shop: Shop) -> None:
        self.shop, self.fleet, self.count = shop, shop.fleet, len(shop.fleet.faults)
        self.model = shop.complaint.bench.model
        self.done: list[tuple[int, ...]] = [()] * self.count
        self.findings: list[list[Finding]] = [[SymptomFinding(shop.symptom)] for _ in range(self.count)]
        self.stopped = np.zeros(self.count, bool)
        self.shows = shop.twin.shows(self.fleet, shop.symptom) > 0.5

    def outcomes(self, rows: np.ndarray, test: int) -> np.ndarray:
        """What the technician reads, each vehicle's reading kept for the next policy."""
        asked, read = self.model.compiled.tests[test], self.shop.read
        keys = [(int(row), test, self.done[row]) for row in rows]
        new = [key for key in keys if key not in read]
        self.shop.technician.fleet = self.fleet
        read.update(zip(new, self.shop.technician.read([(row, asked) for row, *_ in new]), strict=True))
        for key in keys:
            if not self.stopped[key[0]]:
                self.findings[key[0]].append(read[key])
        return np.array([outcome_of(asked, read[key]) for key in keys], dtype=np.intp)

    def repaired(self, rows: np.ndarray, repair: int) -> Repaired:
        """Repair what the repair names, and see whether the complaint shows still."""
        self.stopped[rows] = True
        plans = self.shop.complaint.bench.ground.plans
        if repair == len(plans):
            special = [self.fleet.faults[row].special for row in rows]
            passed = np.array([s in (NONE, AS_DESIGNED) for s in special], bool)
            return Repaired(~passed, passed, np.zeros(len(rows)), passed)
        elements = self._elements(plans[repair].restores)
        touched = np.array([self._touches(row, elements) for row in rows], bool)
        good = self.shop.luck[rows, repair] >= BAD_REPAIR
        self._restore(rows[touched & good], repair, elements)
        passed = np.array([self._gone(int(row)) for row in rows], bool)
        return Repaired(~touched, passed, np.zeros(len(rows)), passed)

    def _elements(self, causes: Sequence[str]) -> frozenset[int]:
        """Elements that the causes of a repair change."""
        every = self.model.wiring.causes
        return frozenset(c.element for cause in every if cause.id in causes for v in cause.variants for c in v)

    def _touches(self, row: int, elements: frozenset[int]) -> bool:
        return any(change.element in elements for change in self.fleet.faults[row].changes)

    def _gone(self, row: int) -> bool:
        fault = self.fleet.faults[row]
        if fault.special == NONE:
            return True
        if fault.special == AS_DESIGNED or (fault.special == UNLISTED and not self.shop.fleet.faults[row].changes):
            return False
        return not self.shows[row]

    def _restore(self, rows: np.ndarray, repair: int, elements: frozenset[int]) -> None:
        """Take the changes of some elements out of some vehicles, put blown fuses right, and solve again."""
        if not len(rows):
            return
        twin, faults, changes = self.shop.twin, list(self.fleet.faults), list(self.fleet.changes)
        supply, latched = self.fleet.supply.copy(), self.fleet.latched.copy()
        for row in rows.tolist():
            fault, self.done[row] = faults[row], (*self.done[row], repair)
            gone = [c for c in fault.changes if c.element in elements]
            causes = tuple(c for c in fault.causes if not self._of(c, elements))
            faults[row] = replace(fault, causes=causes, changes=tuple(c for c in fault.changes if c not in gone))
            changes[row] = tuple(c for c in changes[row] if c not in gone)
            if twin.source in elements:
                supply[row], changes[row] = self.model.supply_volts, self._new_battery(changes[row])
        latched[rows] = False
        self.fleet = Fleet(tuple(faults), tuple(changes), supply, latched)
        those = twin.latched(self.fleet.take(rows.tolist()))
        self.fleet.latched[rows] = those.latched
        self.shows[rows] = twin.shows(those, self.shop.symptom) > 0.5

    def _of(self, cause: int, elements: frozenset[int]) -> bool:
        return any(c.element in elements for v in self.model.wiring.causes[cause].variants for c in v)

    def _new_battery(self, changes: Sequence[Change]) -> tuple[Change, ...]:
        twin = self.shop.twin
        behind, beside = twin.supplied(self.model.supply_volts, twin.inner_ohms)
        kept = tuple(c for c in changes if c.element not in (twin.source, twin.trim))
        return (*kept, Change(twin.source, "set", behind), Change(twin.trim, "set", beside))


def outcome_of(test: Test, finding: Finding) -> int:
    """The outcome that a finding is, counted from 0; over range is the last one that settles."""
    settling = [i for i, outcome in enumerate(test.outcomes) if outcome.settles]
    if isinstance(finding, OutcomeFinding):
        return next(i for i, outcome in enumerate(test.outcomes) if outcome.id == finding.outcome)
    value = finding.value
    return settling[-1] if value is None else next((i for i in settling if value < test.outcomes[i].high), settling[-1])
