"""Where a probe can be put, and how things are called there."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.knowledge.catalogue import Observed
from advisor.knowledge.documents import Part
from advisor.knowledge.wiring import Wiring


@dataclass(frozen=True)
class Point:
    """A place where a probe can be put: its node, what it is called, where it is."""

    node: str
    name: str
    label: tuple[str, str]
    title: str
    place: str

    @property
    def slug(self) -> str:
        """The point's part of a test id."""
        return self.name.replace("/", "-")


@dataclass(frozen=True)
class Where:
    """Where a test is done, what the probes touch, what the instrument sees."""

    place: str
    probe: tuple[tuple[str, str], ...]
    observed: Observed


def points(wiring: Wiring) -> dict[str, Point]:
    """All probe points by node: cavities of suspect contacts, fuse pins, ground points, posts and bus bars."""
    schematic, found = wiring.schematic, []
    colours = {end: wire.colour for wire in schematic.wires.values() for end in (wire.start, wire.end)}
    for contact, nodes in wiring.sides.items():
        connector, cavity = contact.split("/")
        plug = schematic.connectors[connector]
        if contact in wiring.items:
            for node in nodes if plug.inline else nodes[:1]:
                half = f", half {node[-1]}" if plug.inline else ""
                title = f"{plug.title} cavity {cavity}{half} (wire {colours.get(node, '-')})"
                found.append(Point(node, node, (connector, cavity), title, plug.place))
    for part in schematic.parts.values():
        if schematic.library.types[part.type].kind == "fuse" and part.id in wiring.items:
            sides = ends(wiring, part)
            found += [
                Point(node, f"{part.id}/{pin}", (part.id, pin), f"{part.title}, {pin} side", part.place)
                for pin, node in zip(part.pins, sides, strict=True)
            ]
    there = wiring.netlist.node_index  # a vehicle's junctions need not lead anywhere in this circuit
    for junction in schematic.junctions.values():
        if junction.probe and junction.id not in schematic.beside and junction.id in there:
            found.append(Point(junction.id, junction.id, (junction.id, ""), junction.title, junction.place))
    for ground in schematic.grounds.values():
        if ground.id in wiring.items:
            found.append(Point(ground.id, ground.id, (ground.id, ""), ground.title, ground.place))
    return {point.node: point for point in found}


def ends(wiring: Wiring, part: Part) -> tuple[str, str]:
    """The nodes of a two-ended part."""
    element = wiring.netlist.elements[wiring.netlist.element_index[part.id]]
    return element.a, element.b
