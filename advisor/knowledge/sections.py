"""Sections of a circuit: what lies in series between two junctions, as a technician speaks of "the switch side".

Along a section the same current flows, so its faults look alike until somebody probes inside it; a lamp's,
a switch's or a unit's section is called after it.
"""

from __future__ import annotations

from collections.abc import Mapping

from advisor.circuit.netlist import OPEN, Netlist
from advisor.knowledge.wiring import Item, Wiring

_NAMED_AFTER = ("switch", "lamp", "unit", "resistor", "source", "fuse", "ground")


def sections(wiring: Wiring) -> Mapping[str, str]:
    """Title of the section of every item, by item id."""
    members: dict[int, list[Item]] = {}
    chain = chains(wiring.netlist)
    for item in wiring.items.values():
        key = chain.get(item.id, -1 - len(members))  # a unit is no element of its own
        members.setdefault(key, []).append(item)
    return {item.id: _title(items) for items in members.values() for item in items}


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
    return f"{chief.title} side" if len(items) > 1 else chief.title
