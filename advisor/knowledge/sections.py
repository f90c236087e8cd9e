"""Sections of a circuit: what lies in series between two junctions, as a technician speaks of "the switch side".

Along a section the same current flows, so its faults look alike until somebody probes inside it; a lamp's or
a switch's section is called after it.  A unit or a relay makes a section with the contacts of its own plugs or
socket, which no probe at the wires can tell from the part itself.
"""

from __future__ import annotations

from collections.abc import Mapping

from advisor.circuit.netlist import OPEN, Netlist
from advisor.knowledge.wiring import Item, Wiring

_NAMED_AFTER = ("unit", "relay", "switch", "lamp", "motor", "resistor", "source", "fuse", "ground")
_PLUGGED = {"unit": "plug", "relay": "socket"}
"""Kinds that make a section with their contacts, whatever these are in series with, and what holds the contacts."""


def sections(wiring: Wiring) -> Mapping[str, str]:
    """Title of the section of every item, by item id."""
    members: dict[str, list[Item]] = {}
    chain, plugs = chains(wiring.netlist), _unit_plugs(wiring)
    for item in wiring.items.values():
        unit = item.id if item.type.kind in _PLUGGED else plugs.get(item.id.partition("/")[0])
        # what no drawing shows is a section of its own
        members.setdefault(unit or f"chain {chain.get(item.id, item.id)}", []).append(item)
    return {item.id: _title(items) for items in members.values() for item in items}


def _unit_plugs(wiring: Wiring) -> dict[str, str]:
    """Unit or relay of each plug or socket that it has."""
    types, parts = wiring.schematic.library.types, wiring.schematic.parts.values()
    units = [part for part in parts if types[part.type].kind in _PLUGGED]
    return {pin.partition("/")[0]: unit.id for unit in units for pin in unit.pins.values() if "/" in pin}


def chains(netlist: Netlist) -> dict[str, int]:
    """Number of the series chain of every element: elements that meet at a node with no third one belong together."""
    meeting: dict[str, list[str]] = {}
    closed = [e for e in netlist.elements if e.ohms != OPEN]
    for element in closed:
        meeting.setdefault(element.a, []).append(element.id)
        meeting.setdefault(element.b, []).append(element.id)
    chain = {element.id: number for number, element in enumerate(closed)}
    for node, ids in meeting.items():
        if len(ids) == 2 and node != netlist.reference:
            first, second = (chain[id] for id in ids)
            chain = {id: first if number == second else number for id, number in chain.items()}
    return chain


def _title(items: list[Item]) -> str:
    ranks = {name: rank for rank, name in enumerate(_NAMED_AFTER)}
    chief = min(items, key=lambda item: min(ranks.get(name, len(ranks)) for name in (item.type.kind, item.type.id)))
    if len(items) == 1:
        return chief.title
    held_by = _PLUGGED.get(chief.type.kind)
    return f"{chief.title} and its {held_by}" if held_by else f"{chief.title} side"
