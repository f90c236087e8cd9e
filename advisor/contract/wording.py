"""What things of a schematic are called in front of a reader."""

from __future__ import annotations

import math

from advisor.knowledge.documents import Schematic


def part_title(schematic: Schematic, part: str) -> str:
    """Name anything that can fail: a part, a wire with its colour, a splice, a ground point, a contact."""
    if part in schematic.parts:
        return schematic.parts[part].title
    if part in schematic.wires:
        return f"wire {part} ({schematic.wires[part].colour})"
    for shelf in (schematic.splices, schematic.grounds):
        if part in shelf:
            return shelf[part].title
    return contact_title(schematic, part)


def part_place(schematic: Schematic, part: str) -> str | None:
    """Give the id of the place where a part sits; None when the schematic does not say."""
    for shelf in (schematic.parts, schematic.wires, schematic.splices, schematic.grounds, schematic.connectors):
        if part in shelf:
            return shelf[part].place
    connector, _ = _cavity_of(schematic, part)
    return schematic.connectors[connector].place if connector else None


def part_type(schematic: Schematic, part: str) -> str:
    """Give the library type of anything that can fail."""
    if part in schematic.parts:
        return schematic.parts[part].type
    shelves = {"wire": schematic.wires, "splice": schematic.splices, "ground": schematic.grounds}
    return next((name for name, shelf in shelves.items() if part in shelf), "contact")


def contact_title(schematic: Schematic, contact: str) -> str:
    """Name a contact by its connector and cavity, or give the id where it is none."""
    connector, cavity = _cavity_of(schematic, contact)
    if connector is None:
        return contact
    title = schematic.connectors[connector].title
    return f"{title}, contact {cavity}" if cavity else f"{title}, contacts"


def place_title(schematic: Schematic, place: str) -> str:
    """Name a place."""
    return schematic.places[place].title if place in schematic.places else place


def node_title(schematic: Schematic, node: str) -> str:
    """Name a point to probe or bridge: a junction, a ground point, or a cavity with its wire."""
    if node in schematic.junctions:
        return schematic.junctions[node].title
    if node in schematic.grounds or node in schematic.splices:
        return part_title(schematic, node)
    connector, cavity = _cavity_of(schematic, node)
    if connector is None:
        return node
    wires = wires_at(schematic, connector, cavity)
    name, _, half = cavity.partition("/")
    where = f"{connector} cavity {name}" + (f", half {half}" if half else "")
    return where + (f", wire {' / '.join(wires)}" if wires else "")


def wires_at(schematic: Schematic, connector: str, cavity: str) -> tuple[str, ...]:
    """Give the colours of the wires that end in a cavity, each once."""
    node = f"{connector}/{cavity}"
    ends = {node, f"{node}/a", f"{node}/b"}
    return tuple(dict.fromkeys(wire.colour for wire in schematic.wires.values() if ends & {wire.start, wire.end}))


def cause_title(schematic: Schematic, part: str, mode: str) -> str:
    """Name a cause: its part, and what is wrong with it."""
    known = schematic.library.types.get(part_type(schematic, part))
    said = next((m.title for m in known.modes if m.id == mode), "") if known else ""
    return f"{part_title(schematic, part)}: {said or mode_words(mode)}"


def mode_words(mode: str) -> str:
    """Give a fault mode as words."""
    return mode.replace("-", " ")


def _cavity_of(schematic: Schematic, node: str) -> tuple[str | None, str]:
    connector, _, cavity = node.partition("/")
    if connector not in schematic.connectors:
        connector, _, cavity = node.partition("-")
    return (connector, cavity) if connector in schematic.connectors else (None, "")


def end(value: float) -> float | None:
    """Give the end of a range; an open end is None."""
    return value if math.isfinite(value) else None
