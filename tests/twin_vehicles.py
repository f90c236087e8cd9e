"""The rich twin: virtual vehicles with more to them than the model knows that has to find their faults.

Parts differ from their tables and the battery is not at its rest voltage; faults are those of `twin_faults`.  Many
vehicles are solved at once: a row's supply is set by two resistances, since a source E0 behind r E0/E beside a shunt
r E0/(E0 - E) is, seen from outside, a source E behind r.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.special import ndtr
from twin_faults import Fault, FaultSets, outside_fault

from advisor.circuit.netlist import OPEN, ROTOR, Change, Element
from advisor.circuit.solve import Solution, solve
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.model import Model
from advisor.knowledge.wiring import Wiring
from advisor.network.engine import symptom_likelihood
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED

FORCE_VOLTS = 15.0
"""Force of the source that stands behind every supply voltage; above all of them."""
SUPPLY_VOLTS = (11.8, 12.7)
"""Key on, engine off: common practice, no source."""
LOOSE, CLOSE = 0.20, 0.05
"""Tolerances: wires, contacts, fuses and drivers; lamps, motors, coils, resistors, pull-ups.  Common practice."""
_EYE_FLOOR = 0.01
_BATCH, _TRIES = 2048, 1024


@dataclass(frozen=True)
class Riches:
    """What the twin has beyond the model; each may be left out to see what it costs."""

    exact: bool = True
    tolerance: bool = True
    supply: bool = True
    left_out: bool = True
    outside: bool = True
    slips_stay: bool = True
    bad_black: bool = True
    hides: bool = True


@dataclass(frozen=True)
class Fleet:
    """Some vehicles.

    Attributes:
        faults: What is wrong with each of N vehicles.
        changes: Every element that differs from its table, by vehicle.
        supply: Open-circuit voltage of each battery [V], shape (N,).
        latched: Fuses that opened before anybody looks, shape (N, F).
    """

    faults: tuple[Fault, ...]
    changes: tuple[tuple[Change, ...], ...]
    supply: np.ndarray
    latched: np.ndarray

    def take(self, rows: Sequence[int]) -> Fleet:
        """Some of the vehicles."""
        faults, changes = tuple(self.faults[i] for i in rows), tuple(self.changes[i] for i in rows)
        return Fleet(faults, changes, self.supply[list(rows)], self.latched[list(rows)])

    def joined(self, other: Fleet) -> Fleet:
        """These vehicles and others."""
        faults, changes = self.faults + other.faults, self.changes + other.changes
        supply, latched = np.append(self.supply, other.supply), np.concatenate([self.latched, other.latched])
        return Fleet(faults, changes, supply, latched)


class Twin:
    """Draws the vehicles of one model and solves them under any setup."""

    def __init__(self, model: Model, riches: Riches = Riches()) -> None:
        self.model, self.riches = model, riches
        self.sets = FaultSets(model, exact=riches.exact)
        base = model.wiring.netlist
        self.source = base.element_index[model.schematic.battery.id]
        battery, self.trim = base.elements[self.source], len(base.elements)
        self.inner_ohms, rest = battery.ohms, battery.volts
        behind, beside = self.supplied(rest, battery.ohms)
        elements = [replace(e, volts=FORCE_VOLTS, ohms=behind) if e is battery else e for e in base.elements]
        elements.append(Element("supply-trim", "conductor", battery.a, battery.b, beside))
        self.wiring: Wiring = replace(model.wiring, netlist=replace(base, elements=tuple(elements)))
        self.tolerance = np.array([self._tolerance(e) for e in base.elements])

    @staticmethod
    def supplied(volts: float, ohms: float) -> tuple[float, float]:
        """Resistances behind and beside the source that make it look like a battery of some volts and ohms."""
        return ohms * FORCE_VOLTS / volts, ohms * FORCE_VOLTS / (FORCE_VOLTS - volts)

    def _tolerance(self, element: Element) -> float:
        if element.ohms == OPEN or element.kind == "source":
            return 0.0
        resistor = element.id in self.model.wiring.items and self.model.wiring.items[element.id].type.kind in (
            "resistor",
            "motor",
        )
        close = resistor or element.kind in ("lamp", "motor") or element.id.endswith(("/pull-up", "/coil", ROTOR))
        return CLOSE if close else LOOSE

    def vehicles(self, faults: Sequence[Fault], rng: np.random.Generator) -> Fleet:
        """Build a vehicle around each fault: its parts, its battery, and the fuses that it has cost."""
        supply = self.supplies(len(faults), rng)
        changes = tuple(self._changes(f, float(e), rng) for f, e in zip(faults, supply, strict=True))
        blown = np.zeros((len(faults), len(self.wiring.netlist.of_kind("fuse"))), bool)
        return self.latched(Fleet(tuple(faults), changes, supply, blown))

    def supplies(self, count: int, rng: np.random.Generator) -> np.ndarray:
        """Open-circuit voltage of some batteries [V], shape (N,)."""
        volts = self.model.supply_volts
        if not self.riches.supply:
            return np.full(count, volts)
        spread = volts * self.model.schematic.library.instruments["voltmeter"].supply_spread
        return _truncated(volts, spread, SUPPLY_VOLTS, count, rng)

    def latched(self, fleet: Fleet) -> Fleet:
        """The same vehicles with the fuses blown that their faults blow under any normal condition."""
        for normal in self.model.schematic.normal.values():
            opened = self.solved(fleet, Setup(self.wiring.usual(normal.when)), ()).blown
            fleet = replace(fleet, latched=fleet.latched | opened)
        return fleet

    def _changes(self, fault: Fault, supply: float, rng: np.random.Generator) -> tuple[Change, ...]:
        found: list[Change] = []
        if self.riches.tolerance:
            factors = 1.0 + self.tolerance * rng.uniform(-1.0, 1.0, len(self.tolerance))
            found = [Change(int(i), "scale", float(factors[i])) for i in np.flatnonzero(self.tolerance)]
        weak = sum(c.value for c in fault.changes if c.element == self.source)
        behind, beside = self.supplied(supply, self.inner_ohms + weak)
        found += [c for c in fault.changes if c.element != self.source]
        return (*found, Change(self.source, "set", behind), Change(self.trim, "set", beside))

    def solved(self, fleet: Fleet, setup: Setup, nodes: Sequence[str]) -> Solution:
        """Operating points of all vehicles under one setup."""
        netlist = self.wiring.under(setup)
        before = np.pad(fleet.latched, ((0, 0), (0, len(netlist.of_kind("fuse")) - fleet.latched.shape[1])))
        more = self.model.wiring.under(setup).elements[self.source].ohms - self.inner_ohms
        return solve(netlist, [self._battery(own, more) for own in fleet.changes], tuple(nodes), blown=before)

    def _battery(self, changes: Sequence[Change], more: float) -> tuple[Change, ...]:
        """The same with more resistance inside the battery [ohm]: it has more of it while it is charged."""
        own = {c.element: c.value for c in changes if c.element in (self.source, self.trim)}
        if not more or len(own) < 2:
            return tuple(changes)
        behind, beside = own[self.source], own[self.trim]
        inner = behind * beside / (behind + beside)
        factor = (inner + more) / inner
        return tuple(replace(c, value=c.value * factor) if c.element in own else c for c in changes)

    def swapped(self, fleet: Fleet, part: str) -> Fleet:
        """The same vehicles with a known-good part in; what the old one has cost stays."""
        names = [e.id.split("/")[0] for e in self.wiring.netlist.elements]
        bad = [{c for c in fault.changes if names[c.element] == part} for fault in fleet.faults]
        kept = (tuple(c for c in own if c not in gone) for own, gone in zip(fleet.changes, bad, strict=True))
        return replace(fleet, changes=tuple(kept))

    def shows(self, fleet: Fleet, symptom: str) -> np.ndarray:
        """P(the complaint's loads look as stated) for each vehicle, shape (N,)."""
        chance, eye = np.ones(len(fleet.faults)), self.model.schematic.library.instruments["eye"]
        for glance in self.model.schematic.symptoms[symptom].glances:
            solution = self.solved(fleet, Setup(self.wiring.usual(glance.when)), ())
            for load, look in glance.sees.items():
                share = solution.shown(load, self.model.supply_volts)
                outcomes = self.wiring.scale(load)
                wanted = next(o for o in outcomes if o.id == look)
                spread = np.hypot(eye.gain_error * share, _EYE_FLOOR)
                chance *= ndtr((wanted.high - share) / spread) - ndtr((wanted.low - share) / spread)
        return chance

    def fleet(self, symptom: str, count: int, rng: np.random.Generator) -> Fleet:
        """Draw vehicles whose customers report a symptom: the intake's shares, and faults by prior times symptom."""
        shares = self.model.intake.all * [1.0, 1.0, self.riches.outside]
        none, designed, unlisted, faulty = rng.multinomial(count, [*shares, 1.0 - shares.sum()]).tolist()
        sound = [Fault((), NONE)] * none + [Fault((), AS_DESIGNED)] * designed
        outside = self._outside(symptom, unlisted - unlisted // 2, rng)
        # The rest is gone while somebody looks: an intermittent fault shows a sound circuit.
        gone = [Fault((), UNLISTED)] * (unlisted - len(outside.faults))
        found = self._hidden(self._faulty(symptom, faulty, rng), rng).joined(outside)
        fleet = found.joined(self.vehicles([*sound, *gone], rng))
        return fleet.take(rng.permutation(count).tolist())

    def _hidden(self, fleet: Fleet, rng: np.random.Generator) -> Fleet:
        """Some loose contacts do not move while somebody tests: those vehicles read as if nothing were wrong."""
        modes, changes = self.model.wiring.causes, list(fleet.changes)
        for i, fault in enumerate(fleet.faults):
            loose = np.prod([modes[c].mode.loose for c in fault.causes]) if fault.causes else 0.0
            if self.riches.hides and rng.random() < loose:
                changes[i] = self._changes(replace(fault, changes=()), float(fleet.supply[i]), rng)
        return replace(fleet, changes=tuple(changes))

    def _faulty(self, symptom: str, count: int, rng: np.random.Generator) -> Fleet:
        """Propose by an upper estimate of P(symptom | set), keep by the vehicle's own."""
        screen, background = self._screen[symptom]
        weights = np.append(
            self.sets.root.weights[SPECIALS:] * screen, self.riches.left_out * self.sets.mass_of_several
        )
        screen = np.append(screen, 1.0)

        def propose(size: int) -> tuple[list[Fault], np.ndarray]:
            rows = rng.choice(len(weights), size, p=weights / weights.sum())
            faults = [
                self.sets.left_out(rng) if row == len(weights) - 1 else self.sets.enumerated(SPECIALS + int(row), rng)
                for row in rows
            ]
            new = [i for i, fault in enumerate(faults) if fault is not None]
            return [faults[i] for i in new], screen[rows[new]]

        return self._accepted(symptom, count, propose, background, rng, tries=10**6)

    @cached_property
    def _screen(self) -> dict[str, tuple[np.ndarray, float]]:
        """By symptom: the most that any severity of the same causes shows it, with a margin; and P(reported | none)."""
        worlds, found = self.model.worlds, {}
        block = np.unique(worlds.members[SPECIALS:], axis=0, return_inverse=True)[1].reshape(-1)
        for index, symptom in enumerate(worlds.symptoms):
            background = float(symptom_likelihood(worlds, self.sets.root, self.model.intake, index)[NONE])
            most = np.zeros(block.max() + 1)
            np.maximum.at(most, block, worlds.presence[SPECIALS:, index])
            found[symptom] = np.minimum(background + 1.3 * most[block], 1.0), background
        return found

    def _outside(self, symptom: str, count: int, rng: np.random.Generator) -> Fleet:
        """Faults that no file lists and that start the complaint; fewer than asked for where hardly any does."""

        def propose(size: int) -> tuple[list[Fault], np.ndarray]:
            return [outside_fault(self.model, UNLISTED, rng) for _ in range(size)], np.ones(size)

        return self._accepted(symptom, count, propose, 0.0, rng, tries=_TRIES)

    def _accepted(  # noqa: PLR0913, PLR0917  one loop for both kinds of faults
        self,
        symptom: str,
        count: int,
        propose: Callable[[int], tuple[list[Fault], np.ndarray]],
        background: float,
        rng: np.random.Generator,
        tries: int,
    ) -> Fleet:
        """Keep proposed vehicles in proportion to what their customers would report, until enough are kept."""
        found, tried = self.vehicles([], rng), 0
        while len(found.faults) < count and tried < tries:
            faults, screen = propose(min(4 * count + 16, _BATCH))
            fleet = self.vehicles(faults, rng)
            chance = (background + (1.0 - background) * self.shows(fleet, symptom)) / screen
            found = found.joined(fleet.take(np.flatnonzero(rng.random(len(faults)) < chance).tolist()))
            tried += len(faults)
        return found.take(range(min(count, len(found.faults))))


def _truncated(
    mean: float, spread: float, ends: tuple[float, float], count: int, rng: np.random.Generator
) -> np.ndarray:
    """Normal values inside an interval, shape (count,)."""
    values = rng.normal(mean, spread, count)
    while (out := (values < ends[0]) | (values > ends[1])).any():
        values[out] = rng.normal(mean, spread, int(out.sum()))
    return values
