"""What the hands do for a test: what to set up, and where each lead goes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from advisor.contract.wording import node_title, part_title
from advisor.knowledge.documents import Schematic


@dataclass(frozen=True)
class Lead:
    """Where a lead goes: role is red, black, bridge or clamp."""

    role: str
    text: str


def setup_lines(condition: str, unplug: Iterable[str], schematic: Schematic) -> tuple[str, ...]:
    """Say how the vehicle stands during a test, and what is apart."""
    apart = [
        f"Unplug {schematic.connectors[name].title}" if name in schematic.connectors else f"Pull {name}"
        for name in unplug
    ]
    return (condition[:1].upper() + condition[1:], *apart)


def leads(
    instrument: str, points: Sequence[tuple[str, str]], jumper: tuple[str, str] | None, schematic: Schematic
) -> tuple[Lead, ...]:
    """Say where red and black, a jumper or a clamp go; a single lead has black on the reference."""
    if jumper:
        first, second = (node_title(schematic, node) for node in jumper)
        return (Lead("bridge", f"{first} to {second}"),)
    if instrument == "clamp":
        return tuple(Lead("clamp", f"around {part_title(schematic, wire)}") for wire, _ in points)
    if instrument in {"ammeter", "fuse-drop"}:
        way = "in place of" if instrument == "ammeter" else "across"
        return tuple(Lead("red", f"{way} {part_title(schematic, id)}") for id, _ in points)
    placed = [Lead(role, _point(schematic, *point)) for role, point in zip(("red", "black"), points, strict=False)]
    if len(placed) == 1:
        placed.append(Lead("black", node_title(schematic, schematic.reference)))
    return tuple(placed)


def _point(schematic: Schematic, connector: str, cavity: str) -> str:
    if connector in schematic.parts:
        return f"{part_title(schematic, connector)}, pin {cavity}"
    return node_title(schematic, f"{connector}/{cavity}" if cavity and connector in schematic.connectors else connector)
