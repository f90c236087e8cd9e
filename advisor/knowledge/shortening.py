"""Good conductors in series as one: what a neighbour's wires and contacts come to, exactly, with fewer nodes."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from advisor.circuit.netlist import Element


def shortened(elements: Sequence[Element], good: Collection[str], fixed: Collection[str]) -> tuple[Element, ...]:
    """Join good conductors that meet at a node with nothing else there; the first keeps its name.

    Args:
        elements: Of a netlist.
        good: Ids of conductors that have no fault and no switch.
        fixed: Nodes that stay.
    """
    left, at = {e.id: e for e in elements}, dict[str, set[str]]()
    for element in elements:
        for node in (element.a, element.b):
            at.setdefault(node, set()).add(element.id)
    for node, ids in at.items():
        if node in fixed or len(ids) != 2 or not ids <= set(good):
            continue
        first, second = sorted((left[id] for id in ids), key=lambda e: e.id)
        ends = [first.a if first.b == node else first.b, second.a if second.b == node else second.b]
        if ends[0] == ends[1]:
            continue
        left[first.id] = replace(first, a=ends[0], b=ends[1], ohms=first.ohms + second.ohms)
        del left[second.id]
        at[ends[1]] = at[ends[1]] - {second.id} | {first.id}
    return tuple(left.values())
