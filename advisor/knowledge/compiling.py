"""Compile a schematic: solve the circuit under every fault set and setup, keep what the tests would read."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.solve import Solution, solve
from advisor.knowledge.candidates import Candidates
from advisor.knowledge.catalogue import Setup, Test, Withheld
from advisor.knowledge.documents import Schematic, Symptom
from advisor.knowledge.hypotheses import FaultSets, pairs, singles
from advisor.knowledge.prevalence import Vehicle, notice_days, prevalence
from advisor.knowledge.readings import LOOKS, bins, eye_light, meter_volts, outcomes_for
from advisor.knowledge.wiring import JUMPER, cause_part, severity_cause, wire_up
from advisor.network.priors import odds
from advisor.network.worlds import SPECIALS

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

HYPOTHESES = 3000
JUMPS_ABOUT = 0.3
"""Spread of a reading while a unit keeps resetting, as a share of full supply or light: judgement, no source."""
_SAME = 0.05
"""Two conditions whose readings [V or share of light] nowhere differ by more than this make one test."""
_TELLS = 0.02
"""A test is kept if some single fault moves some outcome's probability by more than this beyond slips."""


@dataclass(frozen=True)
class Compiled:
    """Knowledge of one circuit, free of priors and prices.

    Attributes:
        tests: T tests with outcomes and normal values.
        withheld: Tests that are never proposed.
        causes: C cause ids, PART/MODE.
        members: Causes of each hypothesis, -1 where fewer, shape (H, 2).
        severities: First and one past the last severity of each member, shape (H, 2, 2).
        value: What each test would read [V or share of light], shape (H, T).
        spread: Its standard deviation, shape (H, T).
        presence: P(symptom reported | hypothesis), shape (H, S).
        jumper_amps: Largest current that a jumper test, done here or one cavity off, would draw [A]; zero for
            other tests; shape (H, T).
        seconds: How long each stage took [s].
    """

    tests: tuple[Test, ...]
    withheld: tuple[Withheld, ...]
    causes: tuple[str, ...]
    members: NDArray[np.intp]
    severities: NDArray[np.intp]
    value: Floats
    spread: Floats
    presence: Floats
    jumper_amps: Floats
    seconds: dict[str, float]


@dataclass(frozen=True)
class _Seen:
    """Predictions of some tests under some fault sets, and where switching states differ."""

    value: Floats
    spread: Floats


class Compiler:
    """One run of compiling: holds the wiring and what does not change between stages."""

    def __init__(self, schematic: Schematic) -> None:
        self.schematic, self.wiring = schematic, wire_up(schematic)
        self.tools = schematic.library.instruments
        self.volts = supply_volts(schematic)

    def symptom_setup(self, symptom: Symptom) -> Setup:
        return Setup(self.wiring.usual(symptom.when))

    def solved(self, setup: Setup, sets: FaultSets, latched: Bools, nodes: Iterable[str]) -> Solution:
        netlist = self.wiring.under(setup)
        before = np.pad(latched, ((0, 0), (0, len(netlist.of_kind("fuse")) - latched.shape[1])))
        return solve(netlist, sets.changes, tuple(nodes), blown=before)

    def latched(self, sets: FaultSets) -> Bools:
        """Fuses that have opened in some normal condition before anyone looks: damage stays, shape (H, F)."""
        fuses = len(self.wiring.netlist.of_kind("fuse"))
        blown = np.zeros((len(sets), fuses), bool)
        for normal in self.schematic.normal.values():
            blown |= self.solved(Setup(self.wiring.usual(normal.when)), sets, blown, ()).blown
        return blown

    def observe(self, solution: Solution, tests: Sequence[Test], sets: FaultSets) -> _Seen:
        """Value and spread of each test under each set, shape (H, T), severities' width included."""
        columns = []
        for test in tests:
            if test.observed.lamp:
                columns.append(eye_light(solution.light(test.observed.lamp, self.volts), self.tools["eye"]))
            else:
                volts, ohms = solution.between(test.observed.red, test.observed.black)
                columns.append(meter_volts(volts, ohms, self.tools["voltmeter"]))
        value, spread = (np.stack(part, axis=1) for part in zip(*columns, strict=True))
        jumps = np.where(solution.unsteady, JUMPS_ABOUT, 0.0)[:, None] * [self.volts if t.unit else 1.0 for t in tests]
        return _Seen(value, np.sqrt(spread**2 + _cell_variance(value, solution, sets) + jumps**2))

    def predict(self, tests: Sequence[Test], sets: FaultSets, latched: Bools) -> _Seen:
        """Predictions of all tests, one solve per setup."""
        value, spread = np.zeros((len(sets), len(tests))), np.ones((len(sets), len(tests)))
        for setup, chosen in _by_setup(tests):
            group = [tests[i] for i in chosen]
            nodes = [n for t in group for n in (t.observed.red, t.observed.black) if n]
            seen = self.observe(self.solved(setup, sets, latched, nodes), group, sets)
            value[:, chosen], spread[:, chosen] = seen.value, seen.spread
        return _Seen(value, spread)

    def presence(self, sets: FaultSets, latched: Bools) -> Floats:
        """P(symptom reported | hypothesis), shape (H, S): all its loads look as stated, or a false complaint."""
        false = self.schematic.library.intake.false_complaint
        columns = []
        for symptom in self.schematic.symptoms.values():
            solution = self.solved(self.symptom_setup(symptom), sets, latched, ())
            looks = np.ones(len(sets))
            for load, look in symptom.sees.items():
                light, spread = eye_light(solution.light(load, self.volts), self.tools["eye"])
                jumps = np.where(solution.unsteady, JUMPS_ABOUT, 0.0)
                spread = np.sqrt(spread**2 + _cell_variance(light[:, None], solution, sets)[:, 0] + jumps**2)
                p = bins(light, spread, LOOKS, self.tools["eye"], 1.0)
                looks *= p[:, [outcome.id for outcome in LOOKS].index(look)]
            columns.append(false + (1.0 - false) * looks)
        return np.stack(columns, axis=1) if columns else np.zeros((len(sets), 0))

    def with_outcomes(self, tests: Sequence[Test], sound: _Seen) -> list[Test]:
        limits = {name: limit.value for name, limit in self.schematic.library.limits.items()}
        return [
            replace(t, normal_value=float(v), outcomes=outcomes_for(t, float(v), limits, self.volts))
            for t, v in zip(tests, sound.value[0], strict=True)
        ]

    def telling(self, tests: Sequence[Test], seen: _Seen) -> list[int]:
        """Indices of the tests that tell something: some fault moves them, and no earlier test reads just the same."""
        kept: list[int] = []
        readings: dict[tuple[object, ...], list[int]] = {}
        for i, test in enumerate(tests):
            twins = readings.setdefault((test.kind, test.observed, test.probe, test.setup.unplug), [])
            if any(np.abs(seen.value[:, i] - seen.value[:, k]).max() < _SAME for k in twins):
                continue
            full = self.volts if test.unit == "V" else 1.0
            p = bins(seen.value[:, i], seen.spread[:, i], test.outcomes, self.tools[test.instrument], full)
            if np.abs(p[SPECIALS:] - p[0]).max(initial=0.0) > _TELLS + self.tools[test.instrument].slip:
                kept.append(i)
                twins.append(i)
        return kept

    def jumper_amps(self, tests: Sequence[Test], sets: FaultSets, latched: Bools) -> Floats:
        """Current through a jumper put where it should be, or one cavity off, or mirrored [A], shape (H, T)."""
        amps = np.zeros((len(sets), len(tests)))
        for i, test in enumerate(tests):
            if test.setup.jumper is None:
                continue
            red, black = test.setup.jumper
            nodes = [n for n in (red, *self.beside(test)) if n not in (black, "")]
            solution = self.solved(replace(test.setup, jumper=None), sets, latched, [*nodes, black])
            for node in nodes:
                volts, ohms = solution.between(node, black)
                amps[:, i] = np.maximum(amps[:, i], np.abs(volts) / (ohms + (self.tools[JUMPER].ohms or 0.0)))
        return amps

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


def supply_volts(schematic: Schematic) -> float:
    """The battery's rest voltage [V]."""
    kinds = schematic.library.types
    return next(p.volts for p in schematic.parts.values() if kinds[p.type].kind == "source" and p.volts)


def _by_setup(tests: Sequence[Test]) -> list[tuple[Setup, list[int]]]:
    groups: dict[str, tuple[Setup, list[int]]] = {}
    for i, test in enumerate(tests):
        key = repr((sorted(test.setup.settings.items()), test.setup.unplug, test.setup.jumper))
        groups.setdefault(key, (test.setup, []))[1].append(i)
    return list(groups.values())


def _cell_variance(value: Floats, solution: Solution, sets: FaultSets) -> Floats:
    """Variance inside a severity cell, (width of the cell in the reading)^2 / 12, shape of `value`.

    The width is half the distance between the two neighbouring severities' readings; a neighbour in another
    switching state does not count, since nothing lies between a lamp that is driven and one that is not.
    """
    states = np.concatenate([solution.on, solution.blown], axis=1)
    variance = np.zeros_like(value)
    own = np.arange(len(sets))
    for column in (0, 2):
        ends = []
        for step in (0, 1):
            other = sets.beside[:, column + step]
            ends.append(np.where((states[other] == states).all(axis=1), other, own))
        span = np.abs(value[ends[1]] - value[ends[0]])
        width = np.where(((ends[0] != own) & (ends[1] != own))[:, None], span / 2.0, span)
        variance += width**2 / 12.0
    return variance


def compile_schematic(schematic: Schematic, hypotheses: int = HYPOTHESES) -> Compiled:
    """Solve a schematic under about `hypotheses` fault sets and every setup that its tests need.

    Raises:
        CircuitError: the circuit floats or its switching logic never settles.
    """
    clock = [time.perf_counter()]
    seconds: dict[str, float] = {}

    def lap(name: str) -> None:
        clock.append(time.perf_counter())
        seconds[name] = clock[-1] - clock[-2]

    run = Compiler(schematic)
    candidates = Candidates(run.wiring)
    tests = candidates.tests()
    lap("wiring and candidate tests")
    first = singles(run.wiring.causes)
    latched = run.latched(first)
    seen = run.predict(tests, first, latched)
    tests = run.with_outcomes(tests, seen)
    kept = run.telling(tests, seen)
    tests = [tests[i] for i in kept]
    presence = run.presence(first, latched)
    lap("single faults")
    days = notice_days(schematic, presence[SPECIALS:])
    x = prevalence(run.wiring, days, Vehicle())
    cause_odds = odds(np.bincount(severity_cause(run.wiring), x), cause_part(run.wiring))
    more = pairs(run.wiring.causes, cause_odds, max(hypotheses - len(first), 0))
    sets = first.joined(more)
    lap("choice of pairs")
    latched_more = run.latched(more)
    second = run.predict(tests, more, latched_more)
    presence = np.concatenate([presence, run.presence(more, latched_more)])
    lap("pairs")
    amps = run.jumper_amps(tests, sets, np.concatenate([latched, latched_more]))
    lap("jumper currents")
    return Compiled(
        tuple(tests),
        tuple(candidates.withheld),
        tuple(c.id for c in run.wiring.causes),
        sets.members,
        sets.severities,
        np.concatenate([seen.value[:, kept], second.value]),
        np.concatenate([seen.spread[:, kept], second.spread]),
        presence,
        amps,
        seconds,
    )
