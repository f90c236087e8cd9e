"""What a circuit uses of its vehicle: shared items that lead somewhere, and those that every circuit has.

A vehicle draws fuses, ground points, splices and plugs for all its circuits.  In one circuit those of the others hang
with one end in the air; they are left out there, again and again, until only what leads somewhere is left.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Set
from typing import Protocol

from advisor.knowledge.documents import Connector, Ground, Junction, Part, Splice, Wire


class Drawn(Protocol):
    """What a vehicle or a circuit draws."""

    @property
    def junctions(self) -> Mapping[str, Junction]:
        """Named nodes."""

    @property
    def connectors(self) -> Mapping[str, Connector]:
        """Plugs."""

    @property
    def parts(self) -> Mapping[str, Part]:
        """Parts."""

    @property
    def wires(self) -> Mapping[str, Wire]:
        """Wires."""

    @property
    def splices(self) -> Mapping[str, Splice]:
        """Splices."""

    @property
    def grounds(self) -> Mapping[str, Ground]:
        """Ground points."""


def touched(drawn: Drawn, chassis: str) -> dict[str, frozenset[str]]:
    """Nodes, as files write them, of every item by its id; an inline contact joins its two halves."""
    nodes = {part.id: frozenset(part.pins.values()) for part in drawn.parts.values()}
    nodes |= {wire.id: frozenset({wire.start, wire.end}) for wire in drawn.wires.values()}
    nodes |= {id: frozenset({f"{id}/in", id}) for id in drawn.splices}
    nodes |= {id: frozenset({id, chassis}) for id in drawn.grounds}
    inline = [(plug.id, cavity) for plug in drawn.connectors.values() if plug.inline for cavity in plug.cavities]
    return nodes | {f"{id}/{cavity}": frozenset({f"{id}/{cavity}/a", f"{id}/{cavity}/b"}) for id, cavity in inline}


def leading(shared: Mapping[str, frozenset[str]], own: Mapping[str, frozenset[str]]) -> frozenset[str]:
    """Ids of the shared items of which two nodes at least are used by something else, own items or such shared ones."""
    left = dict(shared)
    while True:
        users = Counter(node for nodes in (*own.values(), *left.values()) for node in nodes)
        loose = [id for id, nodes in left.items() if sum(users[node] > 1 for node in nodes) < 2]
        if not loose:
            return frozenset(left)
        for id in loose:
            del left[id]


def used(vehicle: Drawn, circuit: Drawn, chassis: str) -> frozenset[str]:
    """Ids of the vehicle's items that lead somewhere in a circuit."""
    return leading(touched(vehicle, chassis), touched(circuit, chassis))


def trunk(vehicle: Drawn, chassis: str) -> frozenset[str]:
    """Ids of the items that lead somewhere in every circuit: on them hang loads of the vehicle itself."""
    return leading(touched(vehicle, chassis), {})


def mentioned(vehicle: Drawn, ids: Set[str], chassis: str) -> frozenset[str]:
    """Names by which a circuit's file may use shared items: their ids and their nodes, those of the trunk left out."""
    nodes = touched(vehicle, chassis)
    everywhere = {chassis, *(node for id in trunk(vehicle, chassis) for node in nodes[id])}
    return frozenset({*ids, *(node for id in ids for node in nodes[id] if node not in everywhere)})


def in_common(vehicle: Drawn, one: Drawn, other: Drawn, chassis: str) -> frozenset[str]:
    """What two circuits of a vehicle share, the trunk left out: item ids, and cavities CONN/CAV of its plugs."""
    ids = used(vehicle, one, chassis) & used(vehicle, other, chassis) - trunk(vehicle, chassis)
    cavities = [_cavities(vehicle, drawn, chassis) for drawn in (one, other)]
    return ids | (cavities[0] & cavities[1])


def _cavities(vehicle: Drawn, circuit: Drawn, chassis: str) -> frozenset[str]:
    """Cavities of the vehicle's plugs at which a circuit's own items end."""
    nodes = frozenset(node for ends in touched(circuit, chassis).values() for node in ends)
    found = [node.split("/") for node in nodes]
    return frozenset("/".join(names[:2]) for names in found if len(names) > 1 and names[0] in vehicle.connectors)
