"""What a drawing of a circuit shows: symbols with pins, and which pins are joined."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from advisor.knowledge.documents import Part, Schematic

T = TypeVar("T")


@dataclass(frozen=True)
class Symbol:
    """One thing of a drawing.

    `glyph` is the kind of its part, or wire, contact, splice, ground, junction, body (metal or the negative post), bond
    (where a strap leaves the body) and point (where lines meet); `part` is what it is called among the causes; `probe`
    tells that a probe can be put there, `suspect` that it can be a cause.
    """

    id: str
    glyph: str
    label: str
    part: str = ""
    detail: str = ""
    probe: bool = False
    suspect: bool = True

    @property
    def boxed(self) -> bool:
        """Whether it is a box with named pins, such as a unit."""
        return self.glyph in {"unit", "relay", "diode"}


@dataclass(frozen=True)
class Pin:
    """A symbol's pin, or the whole symbol where its pins are one."""

    symbol: str
    name: str = ""


@dataclass(frozen=True)
class Graph:
    """Symbols by id, in the order of the file, and pairs of pins that are joined."""

    symbols: Mapping[str, Symbol]
    joints: tuple[tuple[Pin, Pin], ...]
    sources: frozenset[str]
    grounds: frozenset[str]


def graph_of(drawn: Schematic) -> Graph:
    """Read a circuit, without its neighbours, as symbols and joints; what only joins two ends is drawn as a line."""
    schematic = _alone(drawn)
    joints, glyphs = _joints(schematic)
    symbols = {symbol.id: symbol for symbol in _symbols(schematic)} | glyphs
    joints = _without_plain_junctions(symbols, joints, schematic)
    joints, points = _with_points(joints)
    symbols |= points
    used = {pin.symbol for joint in joints for pin in joint}
    kept = {name: symbol for name, symbol in symbols.items() if name in used}
    sources = frozenset(p.id for p in schematic.parts.values() if _kind(schematic, p) == "source")
    grounds = frozenset(name for name, symbol in kept.items() if symbol.glyph in {"ground", "body"})
    return Graph(kept, tuple(joints), sources & kept.keys(), grounds)


def _alone(schematic: Schematic) -> Schematic:
    """The circuit without what is beside it for its neighbours' sake."""

    def own(items: Mapping[str, T]) -> dict[str, T]:
        """Those that the circuit itself draws."""
        return {id: item for id, item in items.items() if id not in schematic.beside}

    return replace(
        schematic,
        junctions=own(schematic.junctions),
        connectors=own(schematic.connectors),
        parts=own(schematic.parts),
        wires=own(schematic.wires),
        splices=own(schematic.splices),
        grounds=own(schematic.grounds),
    )


def _kind(schematic: Schematic, part: Part) -> str:
    return schematic.library.types[part.type].kind


def _symbols(schematic: Schematic) -> Iterator[Symbol]:
    for part in schematic.parts.values():
        kind = _kind(schematic, part)
        good = part.assumed_good
        probe = kind == "fuse" and not good
        yield Symbol(part.id, kind, part.title, part.id, _rating(part, kind), probe, suspect=not good)
    for junction in schematic.junctions.values():
        if junction.id not in {schematic.chassis, schematic.reference}:
            yield Symbol(junction.id, "junction", junction.title, probe=junction.probe, suspect=False)
    fallible = {end for wire in schematic.wires.values() if not wire.assumed_good for end in (wire.start, wire.end)}
    for plug in schematic.connectors.values():
        for cavity in plug.cavities:
            id = f"{plug.id}/{cavity}"
            open_to_faults = bool(fallible & {id, f"{id}/a", f"{id}/b"})
            yield Symbol(id, "contact", id, id, probe=open_to_faults, suspect=open_to_faults)
    for wire in schematic.wires.values():
        detail = f"{wire.colour} {wire.gauge_mm2:g}"
        yield Symbol(wire.id, "wire", wire.id, wire.id, detail, suspect=not wire.assumed_good)
    for splice in schematic.splices.values():
        yield Symbol(splice.id, "splice", splice.id, splice.id)
    for ground in schematic.grounds.values():
        yield Symbol(ground.id, "ground", ground.id, ground.id, probe=True)


def _rating(part: Part, kind: str) -> str:
    rated = {
        "fuse": (part.rating_amps, "A"),
        "thermal-fuse": (part.rating_amps, "A"),
        "lamp": (part.watts, "W"),
        "motor": (part.watts, "W"),
        "resistor": (part.ohms, "ohm"),
        "source": (part.volts, "V"),
    }
    value, unit = rated.get(kind, (None, ""))
    return "" if value is None else f"{value:g} {unit}"


def _joints(schematic: Schematic) -> tuple[list[tuple[Pin, Pin]], dict[str, Symbol]]:
    """Join pins and wires' ends with what is at their nodes; body and negative post are drawn anew at each."""
    ends = [(Pin(part.id, pin), node, "device") for part in schematic.parts.values() for pin, node in part.pins.items()]
    ends += [(Pin(wire.id, "from"), wire.start, "wire") for wire in schematic.wires.values()]
    ends += [(Pin(wire.id, "to"), wire.end, "wire") for wire in schematic.wires.values()]
    straps = {w.id for w in schematic.wires.values() if schematic.reference in {w.start, w.end}}
    joints: list[tuple[Pin, Pin]] = []
    glyphs: dict[str, Symbol] = {}
    for pin, node, side in ends:
        if node in {schematic.chassis, schematic.reference}:
            id = f"{node} of {pin.symbol}"
            label = "body" if node == schematic.chassis else node
            bond = node == schematic.chassis and pin.symbol in straps
            probe = schematic.junctions[node].probe
            glyphs[id] = Symbol(id, "bond" if bond else "body", label, suspect=False, probe=probe)
            joints.append((pin, Pin(id)))
        else:
            joints.append((pin, _at(schematic, node, side)))
    return joints, glyphs


def _at(schematic: Schematic, node: str, side: str) -> Pin:
    """Give the pin that a node is: a cavity's side, a splice's feed or branches, a ground, a junction."""
    name, _, rest = node.partition("/")
    if name in schematic.connectors:
        cavity, _, half = rest.partition("/")
        return Pin(f"{name}/{cavity}", half or side)
    return Pin(name)


def _without_plain_junctions(
    symbols: Mapping[str, Symbol], joints: list[tuple[Pin, Pin]], schematic: Schematic
) -> list[tuple[Pin, Pin]]:
    """Take out the junctions that cannot be probed and that only two ends come to."""
    degree = Counter(pin.symbol for joint in joints for pin in joint)
    plain = {j.id for j in schematic.junctions.values() if not j.probe and degree[j.id] == 2 and j.id in symbols}
    kept = [joint for joint in joints if joint[1].symbol not in plain]
    for junction in (name for name in symbols if name in plain):
        first, second = (pin for pin, at in joints if at.symbol == junction)
        kept.append((first, second))
    return kept


def _with_points(joints: list[tuple[Pin, Pin]]) -> tuple[list[tuple[Pin, Pin]], dict[str, Symbol]]:
    """Put a point of its own where several ends come to one side of a contact, so that it stays a contact."""
    degree = Counter(at for _, at in joints if at.name)
    crowded = {at: Pin(f"{at.symbol} {at.name}") for at, count in degree.items() if count > 1}
    moved = [(pin, crowded.get(at, at)) for pin, at in joints]
    points = {pin.symbol: Symbol(pin.symbol, "point", "", suspect=False) for pin in crowded.values()}
    return moved + [(point, at) for at, point in crowded.items()], points
