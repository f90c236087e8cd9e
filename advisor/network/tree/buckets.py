"""The tree that an order of elimination makes, before any number: who hands what to whom.

Each variable has a bucket that sums it out; a bucket with more than two below it has joints between, which only
multiply.  So every message is made from two others and a fixed table at most.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.network.tree.contraction import Scope, joined, size, without


@dataclass(frozen=True)
class Node:
    """A place of the tree.

    Attributes:
        variable: What it sums out, None for a joint.
        below: The nodes that hand it messages, two at most, by their places among all.
        own: Scope of its fixed table, empty where it has none.
        up: Scope of what it hands up.
    """

    variable: int | None
    below: tuple[int, ...]
    own: Scope
    up: Scope

    @property
    def variables(self) -> Scope:
        """The variable that it sums out, or none."""
        return () if self.variable is None else (self.variable,)


def tree_of(scopes: Sequence[Scope], cards: Sequence[int]) -> tuple[Node, ...]:
    """The nodes from the leaves up, a node before the one above it.

    Args:
        scopes: Of every table, variables by their place in the order of elimination.
        cards: Number of states of each variable.
    """
    nodes: list[Node] = []
    mine: Mapping[int, list[Scope]] = {v: [] for v in range(len(cards))}
    for scope in scopes:
        mine[scope[0]].append(scope)
    waiting: Mapping[int, list[int]] = {v: [] for v in range(len(cards))}
    for variable in range(len(cards)):
        below = _paired(nodes, waiting[variable], cards)
        own = joined(*mine[variable])
        up = without(joined(own, (variable,), *(nodes[each].up for each in below)), (variable,))
        nodes.append(Node(variable, below, own, up))
        if up:
            waiting[up[0]].append(len(nodes) - 1)
    return tuple(nodes)


def _paired(nodes: list[Node], below: Sequence[int], cards: Sequence[int]) -> tuple[int, ...]:
    """Join what hands to one node until two are left, the smallest joints first; joints go to the end of `nodes`."""
    left = list(below)
    while len(left) > 2:
        left.sort(key=lambda each: (size(nodes[each].up, cards), each))
        first = left.pop(0)
        sizes = [size(joined(nodes[first].up, nodes[each].up), cards) for each in left]
        second = left.pop(sizes.index(min(sizes)))
        nodes.append(Node(None, (first, second), (), joined(nodes[first].up, nodes[second].up)))
        left.append(len(nodes) - 1)
    return tuple(left)
