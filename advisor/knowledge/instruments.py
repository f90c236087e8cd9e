"""Tests by ohmmeter, test lamp and clamp, with the reason where one of them must not be used.

An ohmmeter needs a dead section that is cut off at the probed end.  A test lamp draws its 200 mA wherever it is
put, so it loads a feed as a voltmeter does not, and pulls a unit's input down.  A clamp goes around a wire.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Protocol

from advisor.circuit.logic import Expression
from advisor.circuit.netlist import Element
from advisor.circuit.solve import Solution, solve
from advisor.knowledge.catalogue import LOADS, Observed, Setup, Test
from advisor.knowledge.documents import Address, Normal, Part
from advisor.knowledge.points import Point, Where, ends
from advisor.knowledge.readings import LIVE_VOLTS
from advisor.knowledge.sections import chains
from advisor.knowledge.wiring import TEST_LAMP, Wiring

KEY_OFF = Normal("key-off", {"ignition": "off"}, "key off", {}, Address("", 1, 1))
LIVE = "the section stays live even so: an ohmmeter would read nonsense there and may be damaged"
UNIT_PLUGGED_IN = "a unit's input or output is on this wire: ohms would feed current into it and read the unit"
LAMP_ON_INPUT = "a unit's input is on this wire: a test lamp drags it low and fakes the switch"
_WIRE_OHMS = 10.0
"""What has less than this counts as a wire when it is asked what a probe touches: judgement, no source."""
_RESTING_AMPS = 0.001
"""What a parked vehicle takes at least if something in it stays awake: judgement, no source."""
_LEAST_AMPS = 0.1
"""Twice what a clamp may be wrong by at zero: a smaller usual current tells nothing; judgement, no source."""

Offer = tuple[Test, str]
"""A test and the reason why it is withheld, empty where it is not."""


class Make(Protocol):
    """Writes a test from its parts."""

    def __call__(  # noqa: PLR0913, PLR0917  the test's own fields
        self, normal: Normal, kind: str, name: str, title: str, where: Where, setup: Setup
    ) -> Test:
        """Give the test."""


@dataclass(frozen=True)
class Instruments:
    """The further tests of one wiring."""

    wiring: Wiring
    points: Mapping[str, Point]
    make: Make

    def offers(self) -> Iterator[Offer]:
        """All of them, in a stable order."""
        yield from self._lamps()
        yield from self._clamps()
        yield from self._draws()
        for number, normal in enumerate(self._dead_conditions()):
            yield from self._ohms(normal, first=number == 0)

    def _sound(self, setup: Setup, *nodes: str) -> Solution:
        return solve(self.wiring.under(setup), [[]], nodes)

    def _lamps(self) -> Iterator[Offer]:
        """A test lamp from each plug's feeds to ground, in the first condition that feeds them."""
        done: set[str] = set()
        for normal in self.wiring.schematic.normal.values():
            setup = Setup(self.wiring.usual(normal.when))
            plugs = [p for p in self.points.values() if self._at_plug(p) and p.node not in done]
            solution = self._sound(setup, *(p.node for p in plugs))
            touched = self._unit_pins(outputs=False)
            fed = self._joined(solution, self.wiring.supply)
            for point in plugs:
                ohms = solution.between(point.node, self.wiring.netlist.reference)[1]
                held_up = ohms[0] > _WIRE_OHMS and touched & self._joined(solution, point.node)
                if point.node in fed or held_up:
                    done.add(point.node)
                    yield self._lamp(normal, point, setup), LAMP_ON_INPUT if held_up else ""

    def _at_plug(self, point: Point) -> bool:
        plug = self.wiring.schematic.connectors.get(point.label[0])
        return plug is not None and not plug.inline

    def _lamp(self, normal: Normal, point: Point, setup: Setup) -> Test:
        title = f"Test lamp from {point.title} to battery negative: does the test lamp light?"
        reference = self.wiring.netlist.reference
        where = Where(point.place, (point.label, (reference, "")), Observed(lamp=TEST_LAMP))
        return self.make(normal, "lamp", point.slug, title, where, replace(setup, lamp=(point.node, reference)))

    def _clamps(self) -> Iterator[Offer]:
        """A clamp around the first wire of each feed, in the first condition in which it carries something."""
        schematic, done = self.wiring.schematic, set[int]()
        chain = chains(self.wiring.netlist)
        for normal in schematic.normal.values():
            setup = Setup(self.wiring.usual(normal.when))
            solution = self._sound(setup)
            for wire in (w for w in schematic.wires.values() if w.id in self.wiring.items):
                plugs = [end.split("/")[0] for end in (wire.start, wire.end) if "/" in end]
                plugs = [id for id in plugs if id in schematic.connectors]
                amps = abs(solution.currents[0, solution.netlist.element_index[wire.id]])
                returns = wire.end in schematic.grounds
                if returns or not plugs or amps < _LEAST_AMPS or chain[wire.id] in done:
                    continue
                done.add(chain[wire.id])
                plug = schematic.connectors[plugs[0]]
                title = f"Current in wire {wire.id} ({wire.colour}), clamp around it behind {plug.title}"
                where = Where(plug.place, ((wire.id, ""),), Observed(wire=wire.id))
                yield self.make(normal, "clamp", wire.id, title, where, setup), ""

    def _draws(self) -> Iterator[Offer]:
        """What a parked vehicle takes: an ammeter in the battery's negative cable, the drop over each whole fuse."""
        schematic = self.wiring.schematic
        cable = next((w for w in schematic.wires.values() if self.wiring.netlist.reference in (w.start, w.end)), None)
        for normal in schematic.normal.values():
            if normal.when.get("ignition") != "off" or cable is None:
                continue
            setup = Setup(self.wiring.usual(normal.when))
            solution = self._sound(setup)
            if abs(solution.currents[0, solution.netlist.element_index[cable.id]]) < _RESTING_AMPS:
                continue  # nothing is meant to stay awake
            title = "Draw of the parked vehicle, ammeter in the battery's negative cable"
            where = Where(cable.place, ((cable.id, ""),), Observed(wire=cable.id))
            yield self.make(normal, "draw", cable.id, title, where, setup), ""
            for part in schematic.parts.values():
                if part.id in self.wiring.items and self.wiring.items[part.id].type.kind == "fuse":
                    title = f"Current through {part.title}, from the millivolts across it and the fuse table"
                    where = Where(part.place, ((part.id, ""),), Observed(wire=part.id))
                    yield self.make(normal, "fuse-drop", part.id, title, where, setup), ""

    def _dead_conditions(self) -> Iterator[Normal]:
        """Key off, and key off with each position of what moves a switch that may be faulty; the text tells it."""
        schematic = self.wiring.schematic
        suspect = [self.wiring.switches[id] for id in self.wiring.switches if id in self.wiring.items]
        names = {name for closed in suspect for name in _names(closed)} - {"ignition"}
        usual = {name: schematic.controls[name][0] for name in sorted(names)}
        others = [(name, value) for name in usual for value in schematic.controls[name][1:]]
        often = Counter(value for _, value in others)
        named = {(n, v): f"-{v}" if often[v] == 1 else f"-{n}-{v}" for n, v in others}
        for id, settings in [("", usual), *((named[n, v], {**usual, n: v}) for n, v in others)]:
            text = ", ".join([KEY_OFF.text, *(f"{name} {value}" for name, value in settings.items())])
            yield replace(KEY_OFF, id=f"{KEY_OFF.id}{id}", when={**KEY_OFF.when, **settings}, text=text)

    def _ohms(self, normal: Normal, *, first: bool) -> Iterator[Offer]:
        """Resistances of what can be cut off: ground wires (once), inputs, switches, parted pairs, what fuses feed."""
        schematic = self.wiring.schematic
        if first:
            for wire in schematic.wires.values():
                if wire.end in schematic.grounds and wire.start in self.points and wire.id in self.wiring.items:
                    yield self._ohm(normal, self.points[wire.start], None, self.points[wire.start].label[0])
        for part in schematic.parts.values():
            if part.id in self.wiring.items:
                yield from self._of_part(normal, part)
        for plug in schematic.connectors.values():
            for half in "ab" if plug.inline else "":
                pair = [p for c in plug.cavities if (p := self.points.get(f"{plug.id}/{c}/{half}"))]
                if len(pair) == 2:  # as to a switch; with more, nobody knows which belong together
                    yield self._ohm(normal, pair[0], pair[1], plug.id)

    def _of_part(self, normal: Normal, part: Part) -> Iterator[Offer]:
        for name in part.inputs:
            if point := self.points.get(part.pins[name]):
                yield self._ohm(normal, point, None, point.label[0])
        kind = self.wiring.items[part.id].type.kind
        if kind == "switch":
            plugs = [pin.split("/")[0] for pin in part.pins.values()]
            sides = [self._inside(part, name) for name in part.pins]
            if sides[0] and sides[1] and plugs[0] == plugs[1]:
                yield self._ohm(normal, sides[0], sides[1], plugs[0], across=part)
        if kind == "fuse" and self.wiring.supply not in ends(self.wiring, part):
            yield self._ohm(normal, self.points[ends(self.wiring, part)[1]], None, part.id)

    def _inside(self, part: Part, name: str) -> Point | None:
        """A part's own pin, which its plug uncovers."""
        pin = part.pins[name]
        if pin not in self.points or pin not in self.wiring.sides:
            return None
        return replace(self.points[pin], node=self.wiring.sides[pin][1], label=(part.id, name))

    def _ohm(self, normal: Normal, red: Point, black: Point | None, apart: str, *, across: Part | None = None) -> Offer:
        reference = self.wiring.netlist.reference
        setup = Setup(self.wiring.usual(normal.when), (apart,))
        far = black.node if black else reference
        name = across.id if across else red.slug + (f"-to-{black.slug}" if black else "")
        title = f"Resistance from {red.title} to {black.title if black else 'battery negative'}"
        if across:
            title = f"Resistance of the {across.title} across its own pins"
        where = Where(red.place, (red.label, black.label if black else (reference, "")), Observed(red.node, far))
        test = self.make(normal, "ohms", name, title, where, setup)
        solution = self._sound(setup, red.node, far)
        if abs(solution.between(red.node, far)[0][0]) > LIVE_VOLTS:
            return test, LIVE
        joined = {n for node in (red.node, far) for n in self._joined(solution, node)}
        return test, UNIT_PLUGGED_IN if joined & self._unit_pins(outputs=True) else ""

    def _joined(self, solution: Solution, node: str) -> set[str]:
        """Nodes that a node is joined to by wires, contacts, fuses, closed switches and relays, ground left out."""
        stops = {self.wiring.netlist.reference, self.wiring.schematic.chassis}
        parts = zip(solution.netlist.elements, solution.ohms[0], strict=True)
        wires = [e for e, ohms in parts if ohms <= _WIRE_OHMS and self._is_wire(e)]
        reached, frontier = {node} - stops, [node]
        while frontier:
            here = frontier.pop()
            for element in wires if here not in stops else ():
                if here in (element.a, element.b):
                    other = element.b if here == element.a else element.a
                    if other not in reached | stops:
                        reached.add(other)
                        frontier.append(other)
        return reached

    def _is_wire(self, element: Element) -> bool:
        """Whether it leads on what comes to it; a heater of a few ohms is a load like any other."""
        load = self.wiring.load_kind(element.id) in (*LOADS, "resistor")
        return element.kind in ("conductor", "fuse", "driver") and not load

    def _unit_pins(self, *, outputs: bool) -> set[str]:
        """Nodes of every unit's inputs, and of its outputs, inside the unit's plug."""
        parts = self.wiring.schematic.parts.values()
        pins = {part.pins[name] for part in parts for name in (*part.inputs, *(part.outputs if outputs else ()))}
        return {self.wiring.sides[pin][1] if pin in self.wiring.sides else pin for pin in pins}


def _names(expression: Expression) -> set[str]:
    inner = {name for operand in expression.operands for name in _names(operand)}
    return inner | ({expression.name} if expression.name else set())
