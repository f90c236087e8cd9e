"""From a schematic to netlists: every part becomes elements, every fault mode changes of elements.

Nodes: a plug's cavity `X31/1` is its wire side, `X31/1/device` the side inside the device; an inline
connector has `X31/1/a` and `X31/1/b`.  The contact between the two sides is itself a part, named `X31/1`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.lamp import rated_ohms
from advisor.circuit.logic import Expression, parse
from advisor.circuit.netlist import (
    OPEN,
    ROTOR,
    Element,
    Input,
    Netlist,
    Output,
    Relay,
    Unit,
    lamp_element,
    motor_elements,
)
from advisor.knowledge.catalogue import Outcome, Setup
from advisor.knowledge.documents import Part, Schematic
from advisor.knowledge.effects import FLAT, Variants, variants
from advisor.knowledge.library import FaultMode, PartType
from advisor.knowledge.readings import SCALES
from advisor.knowledge.shortening import shortened

LEVELS = ("low", "high")
JUMPER = "jumper"
TEST_LAMP = "test-lamp"
_PIN_OHMS = 0.05
"""Resistance of a unit's supply and input pins inside the case [ohm]: small beside what they feed."""
CHARGE_OHMS, LINK_OHMS = 5e-4, 1.0
"""Resistance of what counts the charge that goes through it, small beside a battery's; of a message's way, small beside
any pull-up: a low level stands for the one message, a high one for the other, or for none [ohm]."""
DIODE_VOLTS, DIODE_OHMS = 0.7, 0.05
"""Forward voltage [V] and resistance [ohm] of a silicon rectifier diode at its current: common practice, no source."""


@dataclass(frozen=True)
class Item:
    """Anything that can fail: its type, place, title, price override, and its own element or unit."""

    id: str
    type: PartType
    title: str
    place: str
    price: float | None = None


@dataclass(frozen=True)
class Cause:
    """A (part, fault mode) pair; `variants` are its equally likely severities, each a list of changes."""

    part: str
    mode: FaultMode
    variants: Variants

    @property
    def id(self) -> str:
        """PART/MODE."""
        return f"{self.part}/{self.mode.id}"


@dataclass(frozen=True)
class Wiring:
    """A schematic's elements, units, switches and causes.

    `switches` maps a switch element to the condition that closes it, `contacts` a connector to its
    contact elements and a fuse to itself (what opens when it is pulled), `sides` a contact to its two nodes
    (wire side first).
    """

    schematic: Schematic
    netlist: Netlist
    switches: Mapping[str, Expression]
    contacts: Mapping[str, tuple[str, ...]]
    sides: Mapping[str, tuple[str, str]]
    items: Mapping[str, Item]
    causes: tuple[Cause, ...]

    @cached_property
    def followers(self) -> tuple[Part, ...]:
        """Senders and sources, whose resistance or force follows a control."""
        return tuple(part for part in self.schematic.parts.values() if part.follows)

    @property
    def supply(self) -> str:
        """Node of the battery's positive post."""
        return self.schematic.battery.pins["positive"]

    def usual(self, when: Mapping[str, str]) -> dict[str, str]:
        """Every control's setting: as given, otherwise its usual (first) value."""
        return {name: when.get(name, values[0]) for name, values in self.schematic.controls.items()}

    def is_motor(self, load: str) -> bool:
        """Whether a load turns."""
        return load + ROTOR in self.netlist.element_index

    def load_kind(self, id: str) -> str:
        """The kind of a part, by which it is watched; the test lamp is a lamp, what is no part has none."""
        part = self.schematic.parts.get(id)
        if part is None:
            return "lamp" if id == TEST_LAMP else ""
        return self.schematic.library.types[part.type].kind

    def scale(self, load: str) -> tuple[Outcome, ...]:
        """What a person may say of a load, from nothing up."""
        return SCALES[self.load_kind(load)]

    def under(self, setup: Setup) -> Netlist:
        """The netlist with switches set, connectors apart, fuses pulled, a fused jumper and a test lamp in place."""
        ohms = {name: OPEN for name, closed in self.switches.items() if not closed.holds(setup.settings)}
        ohms |= {p.id: p.ohms_at[setup.settings[p.follows]] for p in self.followers if p.ohms_at}
        share = {p.id: p.volts_at[setup.settings[p.follows]] / (p.volts or 1.0) for p in self.followers if p.volts_at}
        volts = {e.id: e.volts * share[e.id] for e in self.netlist.elements if share.get(e.id, 1.0) != 1.0}
        ohms |= {contact: OPEN for connector in setup.unplug for contact in self.contacts[connector]}
        extra = []
        if setup.jumper is not None:
            tool = self.schematic.library.instruments["jumper"]
            extra = [Element(JUMPER, "fuse", *setup.jumper, ohms=tool.ohms or 0.05, amps=tool.fuse_amps or 5.0)]
        if setup.lamp is not None:
            tool = self.schematic.library.instruments[TEST_LAMP]
            extra.append(lamp_element(TEST_LAMP, *setup.lamp, watts=tool.watts or 0.0, volts=tool.volts or 0.0))
        return replace(self.netlist.altered(ohms, extra, volts), settings=setup.settings)


class _Builder:
    """Collects elements, units and items while the schematic is read through once."""

    def __init__(self, schematic: Schematic) -> None:
        self.schematic, self.library = schematic, schematic.library
        self.elements: list[Element] = []
        self.units: list[Unit] = []
        self.relays: list[Relay] = []
        self.switches: dict[str, Expression] = {}
        self.sides: dict[str, tuple[str, str]] = {}
        self.items: dict[str, Item] = {}
        self.diodes: list[str] = []

    def add(self, id: str, kind: str, a: str, b: str, ohms: float, **more: float) -> None:
        """Add an element."""
        self.elements.append(Element(id, kind, a, b, ohms, **more))

    def item(self, id: str, type: str, title: str, place: str, price: float | None = None) -> None:
        """Note something that can fail; what is drawn for a neighbour's sake is good."""
        if self.is_beside(id):
            return
        self.items[id] = Item(id, self.library.types[type], title, place, price)

    def is_beside(self, id: str) -> bool:
        """Whether something is drawn for a neighbour's sake."""
        return id.partition("/")[0] in self.schematic.beside

    def pin_node(self, reference: str) -> str:
        """The node of a part's pin: a plug's pin sits on the device side of its contact."""
        connector, _, cavity = reference.partition("/")
        return f"{connector}/{cavity}/device" if cavity and connector in self.schematic.connectors else reference

    def part(self, part: Part) -> None:
        """Add a part's elements, and itself as an item unless it is assumed good."""
        kind = self.library.types[part.type].kind
        if kind == "unit":
            self.unit(part)
        elif kind == "relay":
            self.relay(part)
        else:
            self.two_ended(part, kind)
        if not part.assumed_good:
            self.item(part.id, part.type, part.title, part.place, part.price)

    def two_ended(self, part: Part, kind: str) -> None:
        """Add a part that is one element between its two pins."""
        a, b = (self.pin_node(node) for node in _ends(part.pins))
        given = part.ohms if part.ohms is not None else self.library.types[part.type].ohms
        ohms, watts, volts = given or 0.0, part.watts or 0.0, part.volts or 0.0
        drawn: dict[str, Callable[[], None]] = {
            "lamp": lambda: self.elements.append(lamp_element(part.id, a, b, watts=watts, volts=volts)),
            "motor": lambda: self.motor(part, a, b, ohms),
            "sender": lambda: self.add(part.id, "conductor", a, b, next(iter(part.ohms_at.values()))),
            "diode": lambda: self.diode(part.id, a, b, ohms or DIODE_OHMS),
            "gap": lambda: self.add(part.id, "conductor", a, b, OPEN),
            "charge": lambda: self.add(part.id, "conductor", a, b, CHARGE_OHMS, amps=part.rating_amps or 0.0),
            "gassing": lambda: self.add(part.id, "conductor", b, a, CHARGE_OHMS, amps=part.rating_amps or 0.0),
            "link": lambda: self.link(part.id, a, b),
            "source": lambda: self.source(part, a, b, ohms),
        }
        drawn |= dict.fromkeys(
            ("horn", "heater", "gauge"), lambda: self.add(part.id, "conductor", a, b, rated_ohms(watts, volts))
        )
        drawn |= dict.fromkeys(("fuse", "thermal-fuse"), lambda: self.fuse(part.id, a, b, part.rating_amps or 0.0))
        drawn.get(kind, lambda: self.add(part.id, "conductor", a, b, ohms))()
        if kind == "switch":
            self.switches[part.id] = parse(part.closed_when or "", self.schematic.controls)

    def motor(self, part: Part, a: str, b: str, ohms: float) -> None:
        """Add a motor: its winding, what turns, and what stands for its standing still."""
        kind = "winch" if part.drives == "steady" else "motor"
        rated = {"watts": part.watts or 0.0, "volts": part.volts or 0.0, "winding_ohms": ohms}
        self.elements += motor_elements(part.id, a, b, **rated, kind=kind)
        self.add(f"{part.id}/locked", "conductor", f"{part.id}/inner", b, OPEN)

    def fuse(self, id: str, a: str, b: str, rating_amps: float) -> None:
        """Add a fuse."""
        self.add(id, "fuse", a, b, fuse_ohms(rating_amps), amps=rating_amps)

    def source(self, part: Part, a: str, b: str, ohms: float) -> None:
        """Add a source, and what stands for its being discharged where it can be."""
        self.add(part.id, "source", a, b, ohms, volts=part.volts or 0.0)
        if any(mode.effect == "discharged" for mode in self.library.types[part.type].modes):
            self.add(part.id + FLAT, "conductor", a, b, OPEN)

    def link(self, id: str, said: str, heard: str) -> None:
        """Add a message's way, and what keeps the last message at its end."""
        self.add(id, "conductor", said, heard, LINK_OHMS)
        self.add(f"{id}/stuck", "conductor", heard, self.schematic.chassis, OPEN)

    def diode(self, id: str, anode: str, cathode: str, ohms: float) -> None:
        """Add a diode: the force of its junction, and a path that conducts one way only."""
        inner = f"{id}/inner"
        self.add(id, "source", anode, inner, ohms / 2.0, volts=DIODE_VOLTS)
        self.add(f"{id}/driver", "driver", inner, cathode, ohms / 2.0)
        self.add(f"{id}/short", "conductor", anode, cathode, OPEN)
        self.diodes.append(f"{id}/driver")

    def relay(self, part: Part) -> None:
        """Add a relay: its coil from 86 to 85, and its contacts from 30 to 87, half of their resistance switched."""
        node = {pin: self.pin_node(reference) for pin, reference in part.pins.items()}
        inner, half = f"{part.id}/inner", (self.library.types[part.type].ohms or 0.0) / 2.0
        self.add(f"{part.id}/coil", "conductor", node["86"], node["85"], part.ohms or 0.0)
        self.add(part.id, "conductor", node["30"], inner, half)
        self.add(f"{part.id}/driver", "driver", inner, node["87"], half)
        self.add(f"{part.id}/short", "conductor", inner, node["87"], OPEN)
        limits = part.works_above_volts or 0.0, f"{part.id}/driver", part.lets_go_below_volts or math.inf
        self.relays.append(Relay(part.id, f"{part.id}/coil", *limits))

    def unit(self, part: Part) -> None:
        """Add a control unit: its feed, own draw, inputs with pull-ups, and drivers."""
        node = {pin: self.pin_node(reference) for pin, reference in part.pins.items()}
        inner, volts = f"{part.id}/inner", self.supply_volts()
        self.add(f"{part.id}/feed", "conductor", node["supply"], inner, _PIN_OHMS)
        self.add(f"{part.id}/draw", "conductor", inner, node["ground"], volts / (part.draws_amps or 0.0))
        inputs = []
        for name, spec in part.inputs.items():
            seen = f"{part.id}/{name}"
            self.add(f"{seen}/sense", "conductor", node[name], seen, _PIN_OHMS)
            self.add(f"{seen}/pull-up", "conductor", inner, seen, spec.pull_up_ohms)
            inputs.append(Input(name, seen, spec.low_below_volts))
        names = dict(self.schematic.controls) | dict.fromkeys(part.inputs, LEVELS)
        outputs = []
        for name, output in part.outputs.items():
            ends = (node[name], node["ground"]) if output.side == "low" else (inner, node[name])
            self.add(f"{part.id}/{name}/driver", "driver", *ends, output.on_ohms)
            self.add(f"{part.id}/{name}/short", "conductor", *ends, OPEN)
            outputs.append(Output(f"{part.id}/{name}/driver", parse(output.on_when, names)))
        limits = part.works_above_volts or 0.0
        self.units.append(Unit(part.id, inner, node["ground"], limits, tuple(inputs), tuple(outputs)))

    def supply_volts(self) -> float:
        """The battery's rest voltage [V]."""
        return self.schematic.battery.volts or 0.0

    def shunts_of(self, id: str, node_a: str, node_b: str) -> None:
        """Paths that a short opens: to the body from the first end, to the live wire from the second."""
        if node_a != self.schematic.chassis:
            self.add(f"{id}/ground", "conductor", node_a, self.schematic.chassis, OPEN)
        if node_b != self.schematic.live:
            self.add(f"{id}/supply", "conductor", node_b, self.schematic.live, OPEN)


_ORDER = (("positive", "negative"), ("anode", "cathode"), ("from", "to"))
"""Pins of which the first is an element's first end, however the file orders them."""


def _ends(pins: Mapping[str, str]) -> tuple[str, ...]:
    """The nodes of two pins, the first end first."""
    ordered = next((names for names in _ORDER if set(names) == set(pins)), tuple(pins))
    return tuple(pins[name] for name in ordered)


def fuse_ohms(rating_amps: float) -> float:
    """Cold resistance of a blade fuse [ohm]: 0.077 V divided by the rating.

    From 5 A to 25 A cold resistances of makers' tables (from memory: 5 A 17.85, 10 A 7.7, 20 A 3.38, 25 A
    2.52 mohm) follow it within a quarter.
    """
    return 0.077 / rating_amps


def _contacts(builder: _Builder) -> dict[str, list[str]]:
    """Add the contact of every cavity that a wire or a pin uses; one that serves only good wires is assumed good."""
    schematic = builder.schematic
    faulty_wires = [w for w in schematic.wires.values() if not w.assumed_good]
    used = {r for p in schematic.parts.values() for r in p.pins.values()}
    used |= {end for w in schematic.wires.values() for end in (w.start, w.end)}
    suspect = {end for w in faulty_wires if not builder.is_beside(w.id) for end in (w.start, w.end)}
    contacts: dict[str, list[str]] = {}
    for connector in schematic.connectors.values():
        wet = builder.library.exposures[schematic.places[connector.place].exposure].wet
        for cavity in connector.cavities:
            id = f"{connector.id}/{cavity}"
            nodes = (f"{id}/a", f"{id}/b") if connector.inline else (id, f"{id}/device")
            if id not in used and not used & set(nodes):
                continue
            builder.add(id, "conductor", *nodes, builder.library.types["contact"].ohms or 0.0)
            builder.sides[id] = nodes
            contacts.setdefault(connector.id, []).append(id)
            if suspect & {id, *nodes}:
                builder.item(id, "contact", f"contact {cavity} of {connector.title}", connector.place)
                if wet and nodes[0] != schematic.live:
                    builder.add(f"{id}/leak", "conductor", nodes[0], schematic.live, OPEN)
    return contacts


def _wires(builder: _Builder) -> None:
    library = builder.library
    for wire in builder.schematic.wires.values():
        ohms = library.milliohm_per_metre[wire.gauge_mm2] * 1e-3 * wire.length_m
        builder.add(wire.id, "conductor", wire.start, wire.end, ohms)
        if not wire.assumed_good and not builder.is_beside(wire.id):
            builder.shunts_of(wire.id, wire.start, wire.end)
            builder.item(wire.id, wire.type, f"wire {wire.id} ({wire.colour}, {wire.start} to {wire.end})", wire.place)
    for splice in builder.schematic.splices.values():
        builder.add(splice.id, "conductor", f"{splice.id}/in", splice.id, library.types["splice"].ohms or 0.0)
        builder.item(splice.id, "splice", splice.title, splice.place)
    for ground in builder.schematic.grounds.values():
        builder.add(ground.id, "conductor", ground.id, builder.schematic.chassis, library.types["ground"].ohms or 0.0)
        builder.item(ground.id, "ground", ground.title, ground.place)


def wire_up(schematic: Schematic, *, failing: bool = True) -> Wiring:
    """Build the netlist of a schematic and, unless nothing is `failing`, the electrical effect of every fault mode.

    Raises:
        FloatingNodeError: a node has no path to the battery, whatever the switches do.
    """
    builder = _Builder(schematic)
    for part in schematic.parts.values():
        builder.part(part)
    _wires(builder)
    contacts = _contacts(builder)
    idle = [g for g in schematic.grounds if sum(g in (e.a, e.b) for e in builder.elements) < 2]
    good = frozenset(e.id for e in builder.elements if builder.is_beside(e.id) and _plain(schematic, e))
    elements = shortened([e for e in builder.elements if e.id not in idle], good, _fixed_nodes(schematic))
    items = {id: item for id, item in builder.items.items() if id not in idle}
    relays, diodes = tuple(builder.relays), tuple(builder.diodes)
    netlist = Netlist(schematic.reference, elements, tuple(builder.units), {}, relays, diodes)
    netlist.require_grounded()
    causes = tuple(
        Cause(item.id, mode, changes)
        for item in (items.values() if failing else ())
        for mode in item.type.modes
        if (changes := variants(netlist, item, mode, schematic.library))
    )
    frozen = {connector: tuple(ids) for connector, ids in contacts.items() if connector not in schematic.beside}
    frozen |= {e.id: (e.id,) for e in elements if e.kind == "fuse"}
    return Wiring(schematic, netlist, builder.switches, frozen, builder.sides, items, causes)


def _plain(schematic: Schematic, element: Element) -> bool:
    """Whether an element is a wire, a contact or a joint, and nothing besides."""
    part = schematic.parts.get(element.id.partition("/")[0])
    return element.kind == "conductor" and (part is None or schematic.library.types[part.type].kind == "conductor")


def _fixed_nodes(schematic: Schematic) -> frozenset[str]:
    """Nodes that keep their names: rails, and junctions and cavities that a probe may be put to."""
    plugs = [plug for plug in schematic.connectors.values() if plug.id not in schematic.beside]
    cavities = [f"{plug.id}/{cavity}{half}" for plug in plugs for cavity in plug.cavities for half in _HALVES]
    named = [id for id in schematic.junctions if id not in schematic.beside]
    return frozenset({schematic.reference, schematic.chassis, schematic.live, *named, *cavities})


_HALVES = ("", "/device", "/a", "/b")
"""What follows a cavity's name in that of a node."""


def severity_cause(wiring: Wiring) -> NDArray[np.intp]:
    """Index of the cause of each severity, shape (V,)."""
    return np.repeat(np.arange(len(wiring.causes)), [len(cause.variants) for cause in wiring.causes])


def cause_part(wiring: Wiring) -> NDArray[np.intp]:
    """Index of the part of each cause, shape (C,)."""
    parts = {part: index for index, part in enumerate(wiring.items)}
    return np.array([parts[cause.part] for cause in wiring.causes], dtype=np.intp)
