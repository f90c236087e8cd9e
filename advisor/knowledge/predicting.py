"""What instruments and eyes would show under every fault set: one solve per setup, for all its tests."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.netlist import Netlist
from advisor.circuit.solve import Probe, Solution, solve
from advisor.knowledge.catalogue import Setup, Test
from advisor.knowledge.compiled import supply_volts
from advisor.knowledge.documents import Glance
from advisor.knowledge.hypotheses import FaultSets
from advisor.knowledge.readings import (
    bins,
    eye_light,
    floating_volts,
    full_scale,
    meter_amps,
    meter_ohms,
    meter_volts,
    wanders,
)
from advisor.knowledge.wiring import JUMPER, Wiring

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

JUMPS_ABOUT = 0.3
"""Spread of a reading while a unit keeps resetting, as a share of full supply or light: judgement, no source."""


@dataclass(frozen=True)
class Seen:
    """Predictions under some fault sets, shape (H, T).

    Attributes:
        value: What is shown [V, A, log10 of ohms, or share of light].
        spread: Its standard deviation.
        jumps: Chance that it never settles.
    """

    value: Floats
    spread: Floats
    jumps: Floats


class Predictor:
    """Solves one wiring under fault sets and setups, and says what instruments would show."""

    def __init__(self, wiring: Wiring) -> None:
        schematic = wiring.schematic
        self.schematic, self.wiring = schematic, wiring
        self.tools = schematic.library.instruments
        self.volts = supply_volts(schematic)
        self._netlists: dict[str, Netlist] = {}
        self._kept: tuple[FaultSets | None, Bools | None, dict[str, Solution]] = (None, None, {})

    def solved(
        self, setup: Setup, sets: FaultSets, latched: Bools, probes: Iterable[Probe], *, keep: bool = False
    ) -> Solution:
        """Operating points under a setup; `latched` are fuses that opened before, shape (H, F).

        Args:
            setup: How the vehicle stands.
            sets: The fault sets.
            latched: Fuses.
            probes: Where instruments are put.
            keep: Whether the same setup will be asked for again, with the same sets and fuses.
        """
        key, (known_sets, known_latched, kept) = setup.key, self._kept
        if known_sets is not sets or known_latched is not latched:
            kept = {}
        found = kept.get(key)
        if found is None:
            netlist = self._netlist(setup)
            before = np.pad(latched, ((0, 0), (0, len(netlist.of_kind("fuse")) - latched.shape[1])))
            found = solve(netlist, self._there(setup, sets).faults, blown=before)
        if keep:
            kept[key], self._kept = found, (sets, latched, kept)
        return found.probed(probes)

    def _netlist(self, setup: Setup) -> Netlist:
        """The netlist under a setup, made once: what a solve prepares is kept with it."""
        if setup.key not in self._netlists:
            self._netlists[setup.key] = self.wiring.under(setup)
        return self._netlists[setup.key]

    def _there(self, setup: Setup, sets: FaultSets) -> FaultSets:
        """The fault sets but for what a known-good part takes out of the vehicle; what it has cost stays."""
        if not setup.swap:
            return sets
        return sets.without(self.wiring.causes, [cause.part == setup.swap for cause in self.wiring.causes])

    def latched(self, sets: FaultSets) -> Bools:
        """Fuses that have opened in some normal condition before anyone looks: damage stays, shape (H, F)."""
        fuses = len(self.wiring.netlist.of_kind("fuse"))
        blown = np.zeros((len(sets), fuses), bool)
        for normal in self.schematic.normal.values():
            blown |= self.solved(Setup(self.wiring.usual(normal.when)), sets, blown, ()).blown
        return blown

    def observe(self, solution: Solution, tests: Sequence[Test], sets: FaultSets) -> Seen:
        """Value and spread of each test under each set, shape (H, T), severities' width included."""
        columns = []
        for test in tests:
            if test.observed.load:
                columns.append(eye_light(solution.shown(test.observed.load, self.volts), self.tools["eye"]))
            elif test.observed.wire:
                wire = solution.netlist.element_index[test.observed.wire]
                columns.append(meter_amps(solution.currents[:, wire], self.tools[test.instrument]))
            else:
                volts, ohms = solution.between(test.observed.red, test.observed.black)
                tool = self.tools[test.instrument]
                in_ohms = test.unit == "ohm"
                columns.append(meter_ohms(volts, ohms, tool) if in_ohms else meter_volts(volts, ohms, tool, self.volts))
        value, spread = (np.stack(part, axis=1) for part in zip(*columns, strict=True))
        full = np.array([full_scale(test, self.volts) for test in tests])
        return Seen(value, _widened(value, spread, full, solution, sets), self._jumps(solution, tests))

    def _jumps(self, solution: Solution, tests: Sequence[Test]) -> Floats:
        """Chance that a reading never settles, on a floating wire or while a unit keeps resetting, shape (H, T)."""
        columns = []
        for test in tests:
            full, wander = full_scale(test, self.volts), np.zeros(len(solution.unsteady))
            if test.unit == "V":
                _, ohms = solution.between(test.observed.red, test.observed.black)
                wander = floating_volts(ohms, self.tools["voltmeter"])
            columns.append(wanders(np.hypot(wander, JUMPS_ABOUT * full * solution.unsteady), test.unit, full))
        return np.stack(columns, axis=1)

    def predict(self, tests: Sequence[Test], sets: FaultSets, latched: Bools) -> Seen:
        """Predictions of all tests, one solve per setup."""
        value, spread = np.zeros((len(sets), len(tests))), np.ones((len(sets), len(tests)))
        jumps = np.zeros_like(value)
        for i, test in enumerate(tests):
            if test.observed.parts:
                value[:, i] = self.damage(test.observed.parts, sets, latched)
        for setup, chosen in setups(tests):
            group = [tests[i] for i in chosen]
            pairs = [(t.observed.red, t.observed.black) for t in group if t.observed.red]
            seen = self.observe(self.solved(setup, sets, latched, pairs), group, sets)
            value[:, chosen], spread[:, chosen], jumps[:, chosen] = seen.value, seen.spread, seen.jumps
        return Seen(value, spread, jumps)

    def damage(self, parts: Sequence[str], sets: FaultSets, latched: Bools) -> Floats:
        """Chance that a look at some parts, key off, finds damage, blown fuses included, shape (H,)."""
        seen = np.array([c.mode.seen if c.part in parts else 0.0 for c in self.wiring.causes] + [0.0])
        chance = seen[sets.members].max(axis=1, initial=0.0)
        fuses = [self.wiring.netlist.elements[i].id for i in self.wiring.netlist.of_kind("fuse")]
        for column, fuse in enumerate(fuses):
            if fuse in parts:
                blown = next(mode.seen for mode in self.wiring.items[fuse].type.modes if mode.effect == "open")
                chance = np.where(latched[:, column], np.maximum(chance, blown), chance)
        false = self.tools["visual"].false_find
        found: Floats = false + (1.0 - false) * chance
        return found

    def presence(self, sets: FaultSets, latched: Bools) -> Floats:
        """P(symptom shows | hypothesis), shape (H, S): all its loads look as stated.

        The customer has seen it more than once, so no slip of a single look counts.
        """
        columns = []
        for symptom in self.schematic.symptoms.values():
            looks = np.ones(len(sets))
            for glance in symptom.glances:
                looks *= self.looks(glance, sets, latched)
            columns.append(looks)
        return np.stack(columns, axis=1) if columns else np.zeros((len(sets), 0))

    def looks(self, glance: Glance, sets: FaultSets, latched: Bools) -> Floats:
        """Chance that all loads look as stated under one condition, shape (H,)."""
        setup, chance = Setup(self.wiring.usual(glance.when)), np.ones(len(sets))
        solution = self.solved(setup, sets, latched, (), keep=True)
        for load, look in glance.sees.items():
            share, spread = eye_light(solution.shown(load, self.volts)[:, None], self.tools["eye"])
            spread = _widened(share, spread, np.ones(1), solution, sets)
            outcomes = self.wiring.scale(load)
            p = bins(share[:, 0], spread[:, 0], outcomes, replace(self.tools["eye"], slip=0.0), 1.0)
            chance *= p[:, [outcome.id for outcome in outcomes].index(look)]
        return chance

    def jumper_amps(self, tests: Sequence[Test], sets: FaultSets, latched: Bools) -> Floats:
        """Current through a jumper put where it should be, or one cavity off, or mirrored [A], shape (H, T)."""
        amps = np.zeros((len(sets), len(tests)))
        bridged = [(i, test.setup.jumper) for i, test in enumerate(tests) if test.setup.jumper]
        bare = [replace(tests[i], setup=replace(tests[i].setup, jumper=None)) for i, _ in bridged]
        for setup, chosen in setups(bare):  # one solve for all jumpers that find the vehicle alike
            pairs = [(bridged[k][0], *ends) for k in chosen for ends in self._bridges(bare[k], bridged[k][1])]
            solution = self.solved(setup, sets, latched, [(red, black) for _, red, black in pairs], keep=True)
            for i, red, black in pairs:
                volts, ohms = solution.between(red, black)
                amps[:, i] = np.maximum(amps[:, i], np.abs(volts) / (ohms + (self.tools[JUMPER].ohms or 0.0)))
        return amps

    def _bridges(self, test: Test, jumper: tuple[str, str]) -> list[tuple[str, str]]:
        """What a jumper would join where it should be, and with its red end one cavity off or mirrored."""
        red, black = jumper
        return [(node, black) for node in (red, *self.beside(test)) if node not in (black, "")]

    def beside(self, test: Test) -> list[str]:
        """Nodes of the cavities next to the probed one and at its mirror image."""
        connector = self.schematic.connectors.get(test.probe[0][0])
        if connector is None:
            return []
        per_row = len(connector.cavities) // connector.rows
        row, column = divmod(connector.cavities.index(test.probe[0][1]), per_row)
        spots = [
            (row, column - 1),
            (row, column + 1),
            (row - 1, column),
            (row + 1, column),
            (row, per_row - 1 - column),
        ]
        inside = [(r, c) for r, c in spots if 0 <= r < connector.rows and 0 <= c < per_row]
        names = [f"{connector.id}/{connector.cavities[r * per_row + c]}" for r, c in inside]
        return [self.wiring.sides[name][0] for name in names if name in self.wiring.sides]


def setups(tests: Sequence[Test]) -> list[tuple[Setup, list[int]]]:
    """Each setup that some tests need a solve for, with the tests' positions."""
    groups: dict[str, tuple[Setup, list[int]]] = {}
    for i, test in enumerate(tests):
        if test.observed.parts:
            continue
        groups.setdefault(test.setup.key, (test.setup, []))[1].append(i)
    return list(groups.values())


def _widened(value: Floats, spread: Floats, full: Floats, solution: Solution, sets: FaultSets) -> Floats:
    """Spread with the width of severity cells and the jumping of unsteady units, shape (H, T)."""
    jumps = np.where(solution.unsteady, JUMPS_ABOUT, 0.0)[:, None] * full
    return np.sqrt(spread**2 + _cell_variance(value, solution, sets) + jumps**2)


def _cell_variance(value: Floats, solution: Solution, sets: FaultSets) -> Floats:
    """Variance inside a severity cell, (width of the cell in the reading)^2 / 12, shape of `value`.

    The width is half the distance between the two neighbouring severities' readings; a neighbour in another
    switching state does not count, since nothing lies between a lamp that is driven and one that is not.
    """
    states = np.concatenate([solution.on, solution.blown], axis=1)
    variance = np.zeros_like(value)
    own = np.arange(len(sets))
    for column in range(0, sets.beside.shape[1], 2):
        ends = []
        for step in (0, 1):
            other = sets.beside[:, column + step]
            ends.append(np.where((states[other] == states).all(axis=1), other, own))
        span = np.abs(value[ends[1]] - value[ends[0]])
        width = np.where(((ends[0] != own) & (ends[1] != own))[:, None], span / 2.0, span)
        variance += width**2 / 12.0
    return variance
