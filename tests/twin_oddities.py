"""Vehicles that the model does not describe: other rates, added equipment, wrong lamps, bad supplies, strand breaks.

On top of the rich twin (`twin_vehicles.py`), which has exact resistances, tolerances, triples, and 8 % faults that no
file lists.  All shares are judgement, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from twin_faults import Fault
from twin_vehicles import Fleet, Twin

from advisor.circuit.netlist import OPEN, Change
from advisor.circuit.solve import Solution
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.model import Model
from advisor.network.worlds import SPECIALS


@dataclass(frozen=True)
class Oddities:
    """How odd the vehicles are.

    Attributes:
        rates: Largest factor by which the rate of a part is off, log-uniform.
        joints: The same for contacts and grounds.
        tapped: Share of vehicles with an aftermarket load tapped into some wire.
        wrong_lamp: Share with a lamp of another power in some holder.
        strands: Share of resistive contacts and wires that carry small currents and fail large ones.
        weak_supply: Share whose battery stands between 10.8 V and 11.8 V.
    """

    rates: float = 3.0
    joints: float = 10.0
    tapped: float = 0.05
    wrong_lamp: float = 0.05
    strands: float = 0.3
    weak_supply: float = 0.1


TAP_OHMS = (12.0, 240.0)
"""A tracker to a lamp of 12 W."""
WEAK_VOLTS = (10.8, 11.8)
STRAND_AMPS, STRAND_SHARE = 0.3, 0.02
"""Below this current a broken strand shows this share of its resistance."""


@dataclass(frozen=True)
class Strand(Change):
    """Resistance that only a large current meets."""


class OddTwin(Twin):
    """Draws odd vehicles of a model; its rates are drawn once, as those of one fleet."""

    def __init__(self, model: Model, rng: np.random.Generator, oddities: Oddities = Oddities()) -> None:
        super().__init__(model)
        self.oddities, worlds, sets = oddities, model.worlds, self.sets
        factor = np.array([self._factor(part, rng) for part in model.cause_parts])[worlds.cause_part]
        held = np.where(worlds.members >= 0, factor[worlds.members], 1.0).prod(axis=1)
        weights = sets.root.weights * held
        weights[SPECIALS:] *= sets.root.weights[SPECIALS:].sum() / weights[SPECIALS:].sum()
        sets.root = replace(sets.root, weights=weights)
        sets.odds = sets.odds * factor
        parts = np.bincount(worlds.cause_part, sets.odds, minlength=int(worlds.cause_part.max()) + 1)
        sets.faulty = parts / (1.0 + parts)

    def _factor(self, part: str, rng: np.random.Generator) -> float:
        joint = "/" in part or part in self.model.schematic.grounds
        most = self.oddities.joints if joint else self.oddities.rates
        return float(most ** rng.uniform(-1.0, 1.0))

    def supplies(self, count: int, rng: np.random.Generator) -> np.ndarray:
        """As the rich twin has them, some weak."""
        weak = rng.random(count) < self.oddities.weak_supply
        return np.where(weak, rng.uniform(*WEAK_VOLTS, count), super().supplies(count, rng))

    def vehicles(self, faults: Sequence[Fault], rng: np.random.Generator) -> Fleet:
        """Build a vehicle around each fault, some of whose resistances are strands."""
        return super().vehicles([self._stranded(fault, rng) for fault in faults], rng)

    def _stranded(self, fault: Fault, rng: np.random.Generator) -> Fault:
        causes = [self.model.wiring.causes[c] for c in fault.causes]
        resistive = {v[0].element for c in causes if c.mode.id == "high-resistance" for v in c.variants}
        loose = rng.random() < self.oddities.strands
        changes = tuple(
            Strand(c.element, c.kind, c.value) if loose and c.element in resistive and c.kind == "add" else c
            for c in fault.changes
        )
        return replace(fault, changes=changes)

    def _changes(self, fault: Fault, supply: float, rng: np.random.Generator) -> tuple[Change, ...]:
        found, elements = list(super()._changes(fault, supply, rng)), self.wiring.netlist.elements
        taken = {c.element for c in fault.changes}
        if rng.random() < self.oddities.tapped:
            shunts = [i for i, e in enumerate(elements) if e.kind == "conductor" and e.ohms == OPEN and i not in taken]
            found.append(Change(int(rng.choice(shunts)), "set", float(rng.uniform(*TAP_OHMS))))
        if rng.random() < self.oddities.wrong_lamp:
            lamps = [i for i, e in enumerate(elements) if e.kind == "lamp" and i not in taken]
            if lamps:
                found.append(Change(int(rng.choice(lamps)), "scale", float(2.0 ** rng.choice([-1.0, 1.0]))))
        return tuple(found)

    def solved(self, fleet: Fleet, setup: Setup, nodes: Sequence[str]) -> Solution:
        """Operating points; strands are solved as sound first, and as they are where the current is large."""
        if not any(isinstance(c, Strand) for changes in fleet.changes for c in changes):
            return super().solved(fleet, setup, nodes)
        light = tuple(tuple(_light(c) for c in changes) for changes in fleet.changes)
        first = super().solved(replace(fleet, changes=light), setup, ())
        elements = self.wiring.netlist.elements
        amps = first.currents
        heavy = tuple(
            tuple(self._met(c, amps[row, first.netlist.element_index[elements[c.element].id]]) for c in changes)
            for row, changes in enumerate(fleet.changes)
        )
        return super().solved(replace(fleet, changes=heavy), setup, nodes)

    @staticmethod
    def _met(change: Change, amps: float) -> Change:
        return change if abs(amps) > STRAND_AMPS else _light(change)


def _light(change: Change) -> Change:
    """A strand as a small current meets it."""
    return replace(change, value=change.value * STRAND_SHARE) if isinstance(change, Strand) else change
