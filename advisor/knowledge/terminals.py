"""What has to be proved good before a control unit is condemned: the ways from each of its pins to a rail.

A supply pin has to reach the battery's positive post, a ground pin the reference; an input and a load are proved by
what joins their pin to the other rail than the unit's own side of it.  Of all that lies between, what is in series is
needed: without it the pin reaches its rail no more.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from advisor.circuit.netlist import OPEN, Element
from advisor.knowledge.documents import Part
from advisor.knowledge.wiring import Wiring

GUARDED = ("unit", "printed-track")
"""Kinds and types of parts that are never condemned before what feeds them is proved: control units, clusters."""
FEED, GROUND, INPUT, LOAD = "feed", "ground", "input", "load"


@dataclass(frozen=True)
class Terminal:
    """A pin of a guarded part.

    Attributes:
        part: The part.
        pin: Its pin.
        role: Feed, ground, input or load.
        node: What the pin is joined to, as the schematic says.
        items: Everything fallible in series between it and its rail.
    """

    part: str
    pin: str
    role: str
    node: str
    items: frozenset[str]


def guarded(wiring: Wiring) -> tuple[str, ...]:
    """Parts that can fail and are not condemned before their pins are proved; none where no circuit is drawn."""
    if not wiring.netlist.elements:
        return ()
    return tuple(id for id, item in wiring.items.items() if {item.type.kind, item.type.id} & set(GUARDED))


def terminals(wiring: Wiring, part: str) -> tuple[Terminal, ...]:
    """The pins of a guarded part that something fallible leads to, in the order of its drawing."""
    drawn = wiring.schematic.parts[part]
    found = [
        Terminal(part, pin, role, node, _series(wiring, part, node, feeding=feeding))
        for pin, node in drawn.pins.items()
        for role, feeding in (_role(drawn, pin),)
    ]
    return tuple(terminal for terminal in found if terminal.items)


def _role(part: Part, pin: str) -> tuple[str, bool]:
    """What a pin is for, and whether it has to reach the supply, otherwise the reference."""
    if pin in {"supply", "in"}:
        return FEED, True
    if pin in part.outputs:
        return LOAD, part.outputs[pin].side == "low"
    if pin in part.inputs:
        return INPUT, False  # its pull-up is inside
    return (GROUND if pin == "ground" else LOAD), False


def _series(wiring: Wiring, part: str, pin: str, *, feeding: bool) -> frozenset[str]:
    """Everything fallible without which a pin does not reach its rail; empty if it never does."""
    start = wiring.sides[pin][1] if pin in wiring.sides else pin
    supply, ground = wiring.supply, {wiring.netlist.reference, wiring.schematic.chassis}
    goal, stops = (supply, ground) if feeding else (wiring.netlist.reference, {supply})
    beside = wiring.schematic.beside  # a neighbour's loads are no way to a rail
    own = [e for e in wiring.netlist.elements if e.id.partition("/")[0] not in beside]
    drawn = [e for e in own if e.ohms != OPEN and not _belongs(e, part)]
    elements = [e for e in drawn if not {e.a, e.b} & stops]
    if not _reaches(elements, start, goal):
        return frozenset()
    owner = {e.id: item for e in elements for item in (e.id, e.id.partition("/")[0]) if item in wiring.items}
    return frozenset(
        item
        for item in set(owner.values())
        if not _reaches([e for e in elements if owner.get(e.id) != item], start, goal)
    )


def _belongs(element: Element, part: str) -> bool:
    return element.id == part or element.id.startswith(f"{part}/")


def _reaches(elements: Iterable[Element], start: str, goal: str) -> bool:
    joined: dict[str, list[str]] = {}
    for element in elements:
        joined.setdefault(element.a, []).append(element.b)
        joined.setdefault(element.b, []).append(element.a)
    seen, frontier = {start}, [start]
    while frontier:
        for node in joined.get(frontier.pop(), ()):
            if node not in seen:
                seen.add(node)
                frontier.append(node)
    return goal in seen
