"""A technician on virtual vehicles: what meters, eyes and slips make of the rich twin's operating points.

One person with one meter works on each vehicle, so gain, offset, leads and a badly grounded black lead stay with the
vehicle, and a slip at a place is mostly made again there.  Shares are those of the part library and common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from twin_vehicles import Fleet, Twin

from advisor.circuit.solve import Solution
from advisor.knowledge.catalogue import Test
from advisor.knowledge.predicting import Predictor
from advisor.network.findings import Finding, OutcomeFinding, ReadingFinding

STAYS = 0.7
"""Chance that a slip at a place is made there again: judgement, no source."""
BAD_BLACK = 0.02
"""Share of vehicles on which the black lead sits on a bad local ground: common practice, no source."""
WRONG_PLACE = 0.75
"""Of a meter's slips, those that hold the red lead beside its place; the others are misread: 3 % and 1 %."""
_FLOATS_VOLTS = 0.5
_JUMPS = 0.3
_LIVE_VOLTS = 0.05
_METER_OHMS = 10e6


@dataclass(frozen=True)
class Slip:
    """Where the red lead really was, or what was read instead."""

    node: str = ""
    value: float = 0.0


@dataclass
class Technician:
    """Reads tests on the vehicles of one fleet; remembers what was slipped where, and what was looked at."""

    twin: Twin
    fleet: Fleet
    rng: np.random.Generator
    slipped: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        count, tools = len(self.fleet.faults), self.twin.model.schematic.library.instruments
        self.tools, self.predictor = tools, Predictor(self.twin.wiring)
        self.gain = {name: self.rng.uniform(-1.0, 1.0, count) * tools[name].gain_error for name in tools}
        self.offset = {name: self.rng.uniform(-1.0, 1.0, count) for name in tools}
        self.leads = self.rng.uniform(0.2, 0.5, count)
        grounds = [g for g in self.twin.model.schematic.grounds if g in self.twin.wiring.netlist.node_index]
        bad = self.rng.random(count) < BAD_BLACK * self.twin.riches.bad_black
        self.black = [str(self.rng.choice(grounds)) if b and grounds else "" for b in bad]
        self.black_ohms = 10.0 ** self.rng.uniform(3.0, 8.0, count)
        self.slips: dict[tuple[int, str], Slip | None] = {}
        self.looks: dict[tuple[int, str], str] = {}

    def read(self, asked: Sequence[tuple[int, Test]]) -> list[Finding]:
        """What each asked test of each asked vehicle shows; one solve for all that stand under the same setup."""
        found: dict[int, Finding] = {}
        groups: dict[str, list[int]] = {}
        for position, (_, test) in enumerate(asked):
            setup = test.setup
            key = repr((sorted(setup.settings.items()), setup.unplug, setup.jumper, setup.lamp, setup.swap))
            groups.setdefault("" if test.kind == "inspect" else key, []).append(position)
        for position in groups.pop("", []):
            found[position] = self._inspected(*asked[position])
        for positions in groups.values():
            self._group([asked[p] for p in positions], positions, found)
        return [found[position] for position in range(len(asked))]

    def _group(self, asked: Sequence[tuple[int, Test]], positions: Sequence[int], found: dict[int, Finding]) -> None:
        slips = [self._slip(vehicle, test) for vehicle, test in asked]
        ends = [self._ends(*pair, slip) for pair, slip in zip(asked, slips, strict=True)]
        rows = sorted({vehicle for vehicle, _ in asked})
        place = {vehicle: row for row, vehicle in enumerate(rows)}
        nodes = list(dict.fromkeys(node for pair in ends for node in pair if node))
        fleet, setup = self.fleet.take(rows), asked[0][1].setup
        solution = self.twin.solved(self.twin.swapped(fleet, setup.swap) if setup.swap else fleet, setup, nodes)
        between: dict[tuple[str, str], tuple[np.ndarray, np.ndarray]] = {}
        for (vehicle, test), slip, pair, position in zip(asked, slips, ends, positions, strict=True):
            row = place[vehicle]
            if test.unit in ("V", "ohm"):
                if pair not in between:
                    between[pair] = solution.between(*pair) if pair[0] != pair[1] else (np.zeros(len(rows)),) * 2
                volts, ohms = (float(values[row]) for values in between[pair])
                reader = self._volts if test.unit == "V" else self._ohms
                misread = slip is not None and not slip.node
                jumps = _JUMPS * self.rng.normal() if solution.unsteady[row] else 0.0
                value = slip.value if misread else reader(vehicle, volts, ohms, jumps, pair)
                found[position] = ReadingFinding(test.id, self._displayed(test, value))
            else:
                found[position] = self._other(vehicle, test, solution, row, slip)
            if slip is not None:
                self.slipped.add(vehicle)

    def _slip(self, vehicle: int, test: Test) -> Slip | None:
        """A slip that is made: the one of last time at this place, or a fresh one; None where all goes well."""
        key = vehicle, test.unit + (test.observed.red or test.id)
        before = self.slips.get(key)
        if before is not None and self.twin.riches.slips_stay and self.rng.random() < STAYS:
            return before
        self.slips[key] = self._fresh(vehicle, test) if self.rng.random() < self._tool(test).slip else None
        return self.slips[key]

    def _fresh(self, vehicle: int, test: Test) -> Slip:
        beside = [n for n in self.predictor.beside(test) if n != test.observed.red] if test.observed.red else []
        if beside and self.rng.random() < WRONG_PLACE:
            return Slip(node=str(self.rng.choice(beside)))
        if test.unit == "ohm":
            return Slip(value=float(10.0 ** self.rng.uniform(-0.5, 7.0)))
        return Slip(value=float(self.rng.uniform(0.0, self.fleet.supply[vehicle])))

    def _tool(self, test: Test) -> object:
        return self.twin.model.instrument(test)

    def _ends(self, vehicle: int, test: Test, slip: Slip | None) -> tuple[str, str]:
        """Nodes that the leads really touch."""
        red, black = test.observed.red, test.observed.black
        if test.unit == "V" and black == self.twin.wiring.netlist.reference and self.black[vehicle]:
            black = self.black[vehicle]
        return (slip.node if slip is not None and slip.node else red), black

    def _volts(self, vehicle: int, volts: float, ohms: float, jumps: float, ends: tuple[str, str]) -> float:
        """A 10 Mohm meter behind what it measures, its own error, and the wandering of a wire in the air."""
        tool = self.tools["voltmeter"]
        if ends[1] == self.black[vehicle]:
            ohms += self.black_ohms[vehicle]
        value = volts * _METER_OHMS / (_METER_OHMS + ohms) + jumps * float(self.fleet.supply[vehicle])
        value += _FLOATS_VOLTS * ohms / (_METER_OHMS + ohms) * self.rng.normal()
        off = self.offset["voltmeter"][vehicle] * tool.counts_error * tool.resolution
        return value * (1.0 + self.gain["voltmeter"][vehicle]) + off + self.rng.uniform(-0.5, 0.5) * tool.resolution

    def _ohms(self, vehicle: int, volts: float, ohms: float, jumps: float, ends: tuple[str, str]) -> float:
        """Leads in series, the meter's error; nonsense on a live section."""
        if abs(volts) > _LIVE_VOLTS:
            return float(10.0 ** self.rng.uniform(-1.0, 7.0))
        tool, shown = self.tools["ohmmeter"], ohms + float(self.leads[vehicle])
        count = self._count(shown)
        off = self.offset["ohmmeter"][vehicle] * tool.counts_error * count if np.isfinite(shown) else 0.0
        return shown * (1.0 + self.gain["ohmmeter"][vehicle]) + off

    def _count(self, ohms: float) -> float:
        """The last digit of 2000 counts."""
        return 0.1 * 10.0 ** max(0.0, np.ceil(np.log10(min(max(ohms, 1e-3), 2e6) / 200.0)))

    def _displayed(self, test: Test, value: float) -> float | None:
        """A value as the display rounds it; None is over range."""
        if test.unit == "ohm":
            count = self._count(value)
            return None if value > 2e6 else max(round(value / count) * count, 0.0)
        return round(round(value / 0.01) * 0.01, 2)

    def _other(self, vehicle: int, test: Test, solution: Solution, row: int, slip: Slip | None) -> Finding:
        """A clamp's amps, or what eye and ear make of a load."""
        if test.unit == "A":
            amps = abs(float(solution.currents[row, solution.netlist.element_index[test.observed.wire]]))
            tool = self.tools["clamp"]
            amps = amps * (1.0 + self.gain["clamp"][vehicle]) + self.offset["clamp"][vehicle] * 0.05
            value = float(self.rng.uniform(0.0, 2.0 * max(test.normal_value, 1.0))) if slip is not None else abs(amps)
            return ReadingFinding(test.id, round(round(value / tool.resolution) * tool.resolution, 2))
        share = float(solution.shown(test.observed.load, self.twin.model.supply_volts)[row])
        share += np.hypot(self.tools["eye"].gain_error * share, 0.01) * self.rng.normal()
        share += _JUMPS * self.rng.normal() if solution.unsteady[row] else 0.0
        ids = [o.id for o in test.outcomes if share < o.high]
        others = [o.id for o in test.outcomes if o.id != ids[0]]
        return OutcomeFinding(test.id, str(self.rng.choice(others)) if slip is not None else ids[0])

    def _inspected(self, vehicle: int, test: Test) -> Finding:
        """What a look finds, by the library's chances; who looks again mostly says the same."""
        key = vehicle, test.id
        if key not in self.looks or self.rng.random() >= STAYS:
            self.looks[key] = "damage" if self.rng.random() < self._damage(vehicle, test) else "sound"
        return OutcomeFinding(test.id, self.looks[key])

    def _damage(self, vehicle: int, test: Test) -> float:
        wiring, netlist = self.twin.model.wiring, self.twin.model.wiring.netlist
        causes = [wiring.causes[c] for c in self.fleet.faults[vehicle].causes]
        chances = [c.mode.seen for c in causes if c.part in test.observed.parts]
        blown = [netlist.elements[f].id for f in netlist.of_kind("fuse")[self.fleet.latched[vehicle]]]
        for fuse in set(blown) & set(test.observed.parts):
            chances.append(next(m.seen for m in wiring.items[fuse].type.modes if m.effect == "open"))
        missed = 1.0 - self.tools["visual"].false_find
        return 1.0 - missed * float(np.prod([1.0 - chance for chance in chances]))
