"""A network made ready to run: an order of elimination, the tree that it makes, and what each node does."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from advisor.network.tree.buckets import Node, tree_of
from advisor.network.tree.contraction import Scope
from advisor.network.tree.cost import LIMIT_BYTES, Cost
from advisor.network.tree.families import Discrete, Family
from advisor.network.tree.ordering import TRIES, best_order
from advisor.network.tree.passing import Worker
from advisor.network.worlds import Floats, Ints

_DECADES = 60.0
"""Powers of ten that a message may lose before it is scaled; a node multiplies three messages at most."""


@dataclass(frozen=True, eq=False)
class Tree:
    """A compiled network; inert, and the same for any evidence.

    Attributes:
        network: What was compiled.
        order: Variables in the order of elimination, those of noisy-MAX chains among them.
        cards: Number of states of each of them.
        workers: What each node does, a node before the one above it.
        above: The node above each, -1 where none is.
        scaled: Nodes whose messages are scaled on the way up.
        cooled: Nodes whose messages from above are scaled.
        cost: What a run takes.
    """

    network: Discrete
    order: tuple[str, ...]
    cards: tuple[int, ...]
    workers: tuple[Worker, ...]
    above: tuple[int, ...]
    scaled: frozenset[int]
    cooled: frozenset[int]
    cost: Cost

    def __repr__(self) -> str:
        cost = self.cost
        return (
            f"Tree({len(self.network.families)} variables, {cost.nodes} nodes, largest table {cost.largest:,} entries, "
            f"per case {cost.entries:,} entries and {cost.products:,} multiplications in products, "
            f"{cost.bytes():,} bytes)"
        )

    @cached_property
    def place(self) -> Mapping[str, int]:
        """Place of every variable in the order of elimination."""
        return {name: place for place, name in enumerate(self.order)}

    @cached_property
    def node_of(self) -> Mapping[int, int]:
        """The node that sums out each variable."""
        return {w.node.variable: i for i, w in enumerate(self.workers) if w.node.variable is not None}

    def on_the_way(self, names: Sequence[str]) -> frozenset[int]:
        """Nodes that messages come down through to some variables, theirs included."""
        found: set[int] = set()
        for name in names:
            node = self.node_of[self.place[name]]
            while node >= 0 and node not in found:
                found.add(node)
                node = self.above[node]
        return frozenset(found)


def compile_tree(network: Discrete, *, limit: int = LIMIT_BYTES, tries: int = TRIES) -> Tree:
    """Compile a network.

    Args:
        network: Any discrete network.
        limit: Memory that one case may take [bytes].
        tries: How often each rule for the order of elimination is tried.

    Raises:
        NetworkTooLargeError: one case takes more; nothing of that size has been made yet.
    """
    tables = network.tables()
    counts = {table.name: len(table.states) for table in tables}
    order = best_order([(*table.parents, table.name) for table in tables], counts, tries)
    place = {name: number for number, name in enumerate(order)}
    cards = tuple(counts[name] for name in order)
    laid = [_laid(table, place) for table in tables]
    nodes = tree_of([scope for scope, _ in laid], cards)
    cost = Cost.of(nodes, cards)
    cost.check(limit)
    fixed = [_fixed(node, laid) for node in nodes]
    workers = tuple(
        Worker.of(node, table, [nodes[i].up for i in node.below], cards)
        for node, table in zip(nodes, fixed, strict=True)
    )
    above = _above(nodes)
    lost = [_decades(table) for table in fixed]
    scaled, left = _scaled_up(nodes, lost)
    cooled = _scaled_down(nodes, above, lost, left)
    entries, products = sum(w.entries for w in workers), sum(w.products for w in workers)
    cost = replace(cost, entries=entries, products=products)
    return Tree(network, order, cards, workers, above, scaled, cooled, cost)


def _laid(table: Family, place: Mapping[str, int]) -> tuple[Scope, Floats]:
    """A table with its axes in the order of elimination."""
    axes = [place[name] for name in (*table.parents, table.name)]
    turned: Ints = np.argsort(axes)
    return tuple(sorted(axes)), table.table.transpose(turned.tolist())


def _fixed(node: Node, laid: Sequence[tuple[Scope, Floats]]) -> Floats | None:
    """The product of the tables whose first variable a node sums out."""
    result = None
    for scope, table in laid:
        if scope[0] == node.variable:
            beside = table[tuple(slice(None) if each in scope else None for each in node.own)]
            result = beside if result is None else result * beside
    return result


def _above(nodes: Sequence[Node]) -> tuple[int, ...]:
    above = [-1] * len(nodes)
    for number, node in enumerate(nodes):
        for each in node.below:
            above[each] = number
    return tuple(above)


def _decades(table: Floats | None) -> float:
    """Powers of ten down to the smallest chance of a table that is not zero."""
    return 0.0 if table is None else -float(np.log10(table[table > 0.0].min()))


def _scaled_up(nodes: Sequence[Node], lost: Sequence[float]) -> tuple[frozenset[int], list[float]]:
    """Nodes that scale what they hand up, and what each has lost since [decades]."""
    left: list[float] = []
    scaled = set()
    for number, node in enumerate(nodes):
        loss = lost[number] + sum(left[i] for i in node.below)
        if loss > _DECADES and node.up:
            scaled.add(number)
            loss = 0.0
        left.append(loss)
    return frozenset(scaled), left


def _scaled_down(
    nodes: Sequence[Node], above: Sequence[int], lost: Sequence[float], left: Sequence[float]
) -> frozenset[int]:
    """Nodes for which what comes from above is scaled."""
    down = [0.0] * len(nodes)
    cooled = set()
    for number in range(len(nodes) - 1, -1, -1):
        if above[number] < 0:
            continue
        beside = sum(left[i] for i in nodes[above[number]].below if i != number)
        down[number] = down[above[number]] + lost[above[number]] + beside
        if down[number] > _DECADES:
            cooled.add(number)
            down[number] = 0.0
    return frozenset(cooled)
