"""Columns of a drawing [px]: symbols that follow one another stand in one line, as near as may be to what they meet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import inf

from advisor.drawing.graph import Pin
from advisor.drawing.layers import Joint, Layers
from advisor.drawing.sizes import Size

APART = 12.0
NEAR = 5.0
"""How far lines that are not joined keep apart [px]."""
_ROUNDS = 40
_STEP = NEAR + 1.0


class Columns:
    """Blocks of symbols that share a column: where each stands, and what keeps blocks apart."""

    def __init__(self, layers: Layers, sizes: Mapping[str, Size]) -> None:
        self.layers, self.sizes = layers, sizes
        self.offset: dict[str, float] = {}
        self.block: dict[str, str] = {}
        self._follow(_links(layers))
        self.right_of, self.left_of = self._gaps()
        self.order = _in_order(dict.fromkeys(self.block.values()), self.right_of)
        self.x: dict[str, float] = {}

    def pin_x(self, pin: Pin, *, below: bool) -> float:
        """Give where a pin leaves its symbol, below or above it."""
        size = self.sizes[pin.symbol]
        return self.at(pin.symbol) + (size.down if below else size.up).get(pin.name, 0.0)

    def at(self, name: str) -> float:
        """Give the middle of a symbol."""
        return self.x[self.block[name]] + self.offset[name]

    def solve(self) -> dict[str, float]:
        """Place all blocks: as far left as they go, then near what they are joined with, then clear of other lines."""
        self.x = dict.fromkeys(self.order, 0.0)
        self._push()
        pulls = self._pulls()
        for step in range(_ROUNDS):
            for block in self.order if step % 2 else self.order[::-1]:
                self._pull(block, pulls[block])
        self._clear()
        return {name: self.at(name) for name in self.block}

    def _follow(self, links: Mapping[str, Joint]) -> None:
        """Put each symbol into the block of the one that it follows."""
        for row in self.layers.rows:
            for name in row:
                joint = links.get(name)
                self.block[name] = self.block[joint.upper.symbol] if joint else name
                self.offset[name] = self._off(joint) if joint else 0.0

    def _off(self, joint: Joint) -> float:
        upper, lower = self.sizes[joint.upper.symbol], self.sizes[joint.lower.symbol]
        off = upper.down.get(joint.upper.name, 0.0) - lower.up.get(joint.lower.name, 0.0)
        return self.offset[joint.upper.symbol] + off

    def _gaps(self) -> tuple[dict[str, dict[str, float]], dict[str, dict[str, float]]]:
        """Give the least distance between blocks that stand beside each other in some row, both ways round."""
        right: dict[str, dict[str, float]] = defaultdict(dict)
        left: dict[str, dict[str, float]] = defaultdict(dict)
        for row in self.layers.rows:
            for a, b in pairwise(row):
                one, other = self.block[a], self.block[b]
                gap = self.sizes[a].right + self.sizes[b].left + APART + self.offset[a] - self.offset[b]
                right[one][other] = left[other][one] = max(gap, right[one].get(other, gap))
        return right, left

    def _push(self) -> None:
        """Move blocks to the right until none stands too near to one on its left."""
        for block in self.order:
            self.x[block] = max([self.x[block], *(self.x[b] + gap for b, gap in self.left_of[block].items())])

    def _pulls(self) -> dict[str, list[tuple[str, float]]]:
        """Give for each block the others that its joints lead to, with where it would have to be from there."""
        pulls: dict[str, list[tuple[str, float]]] = defaultdict(list)
        self.x = self.x or dict.fromkeys(self.order, 0.0)
        for joint in self.layers.joints:
            a, b = self.block[joint.upper.symbol], self.block[joint.lower.symbol]
            if a != b:
                off = self._off(joint) - self.offset[joint.lower.symbol]
                pulls[b].append((a, off))
                pulls[a].append((b, -off))
        return pulls

    def _pull(self, block: str, pulls: Sequence[tuple[str, float]]) -> None:
        if not pulls:
            return
        wanted = sum(self.x[other] + off for other, off in pulls) / len(pulls)
        least = max((self.x[b] + gap for b, gap in self.left_of[block].items()), default=-inf)
        most = min((self.x[b] - gap for b, gap in self.right_of[block].items()), default=inf)
        self.x[block] = max(least, min(most, wanted))

    def _clear(self) -> None:
        """Move blocks to the right where a line from above would run into the start of another line below."""
        rows = [[j for j in self.layers.joints if j.upper.symbol in row] for row in map(set, self.layers.rows)]
        moved = True
        while moved:
            moved = False
            for joints in rows:
                block = self._in_the_way(joints)
                if block:
                    self.x[block] += _STEP
                    self._push()
                    moved = True

    def _in_the_way(self, joints: Sequence[Joint]) -> str:
        """Give a block whose pin stands right under a pin of another line, or a hair beside its own."""
        for lower in joints:
            here = self.pin_x(lower.lower, below=False)
            own = {joint.upper for joint in joints if joint.lower == lower.lower}
            for upper in joints:
                off = abs(self.pin_x(upper.upper, below=True) - here)
                if off < NEAR and (upper.upper not in own or off > 1e-6):
                    return max((self.block[lower.lower.symbol], self.block[upper.upper.symbol]), key=self.order.index)
        return ""


def _links(layers: Layers) -> dict[str, Joint]:
    """Choose for each symbol the one above that it follows in a straight line; straight lines do not cross.

    After Brandes and Koepf, "Fast and simple horizontal coordinate assignment", Graph Drawing 2001, from memory: each
    symbol is linked with the middle one of its neighbours, lines that pass many layers first.
    """
    place = {name: i for row in layers.rows for i, name in enumerate(row)}
    level = {name: i for i, row in enumerate(layers.rows) for name in row}
    down: dict[str, list[Joint]] = defaultdict(list)
    up: dict[str, list[Joint]] = defaultdict(list)
    for joint in layers.joints:
        down[joint.upper.symbol].append(joint)
        up[joint.lower.symbol].append(joint)
    chosen: dict[str, Joint] = {}
    taken: dict[int, list[tuple[int, int]]] = defaultdict(list)
    followed: set[str] = set()

    def _middle(joint: Joint) -> tuple[bool, int, int, int]:
        upper, lower = joint.upper.symbol, joint.lower.symbol
        below = sorted(place[j.lower.symbol] for j in down[upper])
        above = sorted(place[j.upper.symbol] for j in up[lower])
        off = abs(below.index(place[lower]) * 2 - len(below) + 1) + abs(above.index(place[upper]) * 2 - len(above) + 1)
        both = layers.passing(upper) and layers.passing(lower)
        return (not both, off, level[upper], place[upper])

    for joint in sorted(layers.joints, key=_middle):
        upper, lower = joint.upper.symbol, joint.lower.symbol
        ends, row = (place[upper], place[lower]), level[upper]
        crosses = any((ends[0] - a) * (ends[1] - b) <= 0 for a, b in taken[row])
        if upper not in followed and lower not in chosen and not crosses:
            chosen[lower] = joint
            followed.add(upper)
            taken[row].append(ends)
    return chosen


def _in_order(blocks: Mapping[str, None], right_of: Mapping[str, Mapping[str, float]]) -> list[str]:
    """Order blocks so that each comes after all on its left."""
    done: dict[str, None] = {}

    def _visit(block: str) -> None:
        if block not in done:
            for other in right_of.get(block, {}):
                _visit(other)
            done[block] = None

    for block in blocks:
        _visit(block)
    return list(done)[::-1]
