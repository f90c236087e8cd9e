"""What each node of the tree does to messages of many cases, planned once.

References:
    G. Shafer, P. Shenoy, "Probability propagation", 1990: products of all other messages, no division (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.network.tree.buckets import Node
from advisor.network.tree.contraction import Index, Scope, Step, joined, plan, size, spread
from advisor.network.worlds import Floats


@dataclass(frozen=True)
class Product:
    """How tables of some scopes are multiplied, one after the other.

    Attributes:
        scope: Of the product.
        pairs: For each further table, how the product so far and the table are laid beside each other.
        entries: Numbers that it touches, for one case.
    """

    scope: Scope
    pairs: tuple[tuple[Index, Index], ...]
    entries: int

    @staticmethod
    def of(scopes: Sequence[Scope], cards: Sequence[int]) -> Product:
        """Plan the product of tables of some scopes, in the order in which they stand."""
        over = [joined(*scopes[: i + 1]) for i in range(len(scopes))]
        pairs = tuple((spread(a, c), spread(b, c)) for a, b, c in zip(over, scopes[1:], over[1:], strict=False))
        return Product(over[-1] if over else (), pairs, sum(size(scope, cards) for scope in over[1:]))

    def __call__(self, tables: Sequence[Floats]) -> Floats:
        """Multiply."""
        result = tables[0]
        for table, (mine, its) in zip(tables[1:], self.pairs, strict=True):
            result = result[mine] * table[its]
        return result


@dataclass(frozen=True)
class Turn:
    """What goes down to a node below: from above, times the other one below, through the fixed table, times evidence.

    Attributes:
        first: Product of what comes from above and, unless that is late, what comes from the other one below.
        step: The fixed table, and the sum over what the node below does not know.
        late: Whether the other one is multiplied in at the end, as its scope is within.
        last: Product of the step's result and what is late.
        evidence: Product of that and the evidence of the node's own variable.
    """

    first: Product
    step: Step
    late: bool
    last: Product
    evidence: Product

    @staticmethod
    def of(node: Node, fixed: Floats | None, scopes: tuple[Scope, Scope | None], cards: Sequence[int]) -> Turn:
        """Plan it for a node below and another one, by their scopes."""
        scope, other = scopes
        late = other is not None and set(other) <= set(scope)
        first = Product.of([s for s in (node.up, None if late else other) if s], cards)
        reached = tuple(each for each in scope if each in first.scope or each in node.own)
        last = Product.of([reached, *([other] if late and other else [])], cards)
        return Turn(
            first,
            plan(fixed, node.own, first.scope, reached, cards),
            late,
            last,
            Product.of([last.scope, node.variables], cards),
        )

    def run(self, above: Sequence[Floats], other: Sequence[Floats], cases: int) -> Floats:
        """What goes down, the evidence left out."""
        known = [*above, *([] if self.late else other)]
        result = self.step.run(self.first(known) if known else np.ones(cases))
        return self.last([result, *other]) if self.late else result

    @property
    def entries(self) -> int:
        """Numbers that it touches outside of matrix products, for one case."""
        return sum(part.entries for part in (self.first, self.step, self.last, self.evidence))


@dataclass(frozen=True)
class Worker:
    """A node with its numbers.

    Attributes:
        node: Its place in the tree.
        gather: Product of its evidence and of what comes from below, the smaller first.
        order: Which of these stands where: 0 is the evidence.
        lift: The fixed table, and the sum over the own variable.
        turns: What goes down to each node below.
        nearest: The node below by which the own variable is reached, None where nothing is below.
        back: What goes down to that one times what came up from it.
        leaf: From what comes from above to the own variable, where nothing is below.
    """

    node: Node
    gather: Product
    order: tuple[int, ...]
    lift: Step
    turns: tuple[Turn, ...]
    nearest: int | None
    back: Product
    leaf: Step

    @staticmethod
    def of(node: Node, fixed: Floats | None, below: Sequence[Scope], cards: Sequence[int]) -> Worker:
        """Plan a node whose fixed table is given, an axis for each variable of its scope."""
        scopes = [node.variables, *below]
        order = tuple(sorted((i for i, s in enumerate(scopes) if s), key=lambda i: size(scopes[i], cards)))
        gather = Product.of([scopes[i] for i in order], cards)
        others = [*reversed(below)] if len(below) > 1 else [None]
        turns = tuple(Turn.of(node, fixed, pair, cards) for pair in zip(below, others, strict=False))
        nearest = min(range(len(below)), key=lambda i: size(below[i], cards), default=None)
        back = Product.of([] if nearest is None else [turns[nearest].last.scope, below[nearest]], cards)
        leaf = Step.nothing() if below else plan(fixed, node.own, node.up, node.variables, cards)
        lift = plan(fixed, node.own, gather.scope, node.up, cards)
        return Worker(node, gather, order, lift, turns, nearest if node.variables else None, back, leaf)

    def up(self, evidence: Floats | None, below: Sequence[Floats]) -> Floats:
        """What goes up, from the evidence, shape (D, B), and what comes from below."""
        every = (evidence, *below)
        return self.lift.run(self.gather([table for i in self.order if (table := every[i]) is not None]))

    def down(self, above: Sequence[Floats], below: Sequence[Floats], cases: int) -> tuple[Floats | None, list[Floats]]:
        """P(own variable, all evidence but its own), shape (D, B), and what goes to each node below before evidence.

        Args:
            above: What comes from above, nothing where nothing is.
            below: What came from each node below.
            cases: B.
        """
        if not below:
            return self.leaf.run(above[0] if above else np.ones(cases)), []
        sent = [turn.run(above, below[1 - i : 2 - i], cases) for i, turn in enumerate(self.turns)]
        if self.nearest is None:
            return None, sent
        both = self.back([sent[self.nearest], below[self.nearest]])
        axes = tuple(k for k, each in enumerate(self.back.scope) if each != self.node.variable)
        return np.add.reduce(both, axes), sent

    @property
    def entries(self) -> int:
        """Numbers that it touches outside of matrix products on both passes, for one case."""
        steps = self.gather.entries + self.lift.entries + self.leaf.entries
        return steps + sum(turn.entries for turn in self.turns) + 2 * self.back.entries

    @property
    def products(self) -> int:
        """Multiplications inside of matrix products on both passes, for one case."""
        return self.lift.products + self.leaf.products + sum(turn.step.products for turn in self.turns)
