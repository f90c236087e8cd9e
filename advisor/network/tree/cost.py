"""What a compiled network costs, known before it is run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.errors import NetworkTooLargeError
from advisor.network.tree.buckets import Node
from advisor.network.tree.contraction import joined, size

LIMIT_BYTES = 2 * 2**30
"""Memory that a run of one case may take unless more is allowed [bytes]."""
_NUMBER = 8


@dataclass(frozen=True)
class Cost:
    """The size of a tree.

    Attributes:
        nodes: Number of its nodes.
        largest: Entries of its largest table, for one case.
        messages: Entries of all messages on one pass, for one case.
        fixed: Entries of all fixed tables.
        entries: Numbers touched one by one on both passes, for one case; 0 before its steps are planned.
        products: Multiplications inside of matrix products on both passes, for one case.
    """

    nodes: int
    largest: int
    messages: int
    fixed: int
    entries: int = 0
    products: int = 0

    @staticmethod
    def of(nodes: Sequence[Node], cards: Sequence[int]) -> Cost:
        """The size of a tree whose steps are not planned yet."""
        each = [joined(node.own, node.variables, *(nodes[i].up for i in node.below)) for node in nodes]
        return Cost(
            len(nodes),
            max((size(scope, cards) for scope in each), default=0),
            sum(size(node.up, cards) for node in nodes),
            sum(size(node.own, cards) for node in nodes),
        )

    def bytes(self, cases: int = 1) -> int:
        """Memory that a run of so many cases at once takes at most [bytes], fixed tables included."""
        return _NUMBER * (2 * self.fixed + cases * (2 * self.messages + 4 * self.largest))

    def check(self, limit: int) -> None:
        """Refuse a tree that is too large.

        Raises:
            NetworkTooLargeError: one case takes more memory than the limit [bytes].
        """
        if self.bytes() > limit:
            raise NetworkTooLargeError(
                f"the network needs {self.bytes() / 2**20:,.0f} MiB for one case, allowed are {limit / 2**20:,.0f}; "
                f"its largest table has {self.largest:,} entries, its messages {self.messages:,}"
            )
