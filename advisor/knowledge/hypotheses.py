"""Fault sets of any size as arrays, and how each changes the circuit.

Singles come in all severities of a high resistance.  Larger sets come in whole blocks: all coarse severities of all
their causes.  A whole place comes in a few levels, its parts all mild, all middling or all bad.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.faults import Faults
from advisor.circuit.netlist import Change
from advisor.knowledge.wiring import Cause
from advisor.network.worlds import SPECIALS

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

_COARSE = 3
"""Severities of a high resistance inside a larger set: every third of the single fault's."""


@dataclass(frozen=True)
class FaultSets:
    """Fault sets in order.

    Attributes:
        members: Cause indices, -1 where fewer, shape (H, K), K the largest size.
        severities: First and one past the last severity of each member, counted over all causes, shape (H, K, 2).
        changes: The electrical changes of each set.
        beside: Sets that differ by one step of severity: milder and worse of the first cause, then of the
            second and so on; a set's own index where there is none; shape (H, 2 K).
    """

    members: Ints
    severities: Ints
    changes: tuple[tuple[Change, ...], ...]
    beside: Ints

    def __len__(self) -> int:
        return len(self.members)

    @cached_property
    def faults(self) -> Faults:
        """The changes as arrays."""
        return Faults.of(self.changes)

    def chunks(self, rows: int) -> list[FaultSets]:
        """The same sets in chunks of about so many, cut only between blocks of severities."""
        new_block = np.flatnonzero((self.members[1:] != self.members[:-1]).any(axis=1)) + 1
        wanted = np.searchsorted(new_block, np.arange(rows, len(self), rows))
        cuts = np.unique(new_block[wanted[wanted < len(new_block)]])
        edges = [0, *cuts.tolist(), len(self)]
        return [self._part(a, b) for a, b in pairwise(edges) if a < b or len(self) == 0]

    def _part(self, start: int, stop: int) -> FaultSets:
        part = slice(start, stop)
        return FaultSets(self.members[part], self.severities[part], self.changes[part], self.beside[part] - start)

    def without(self, causes: Sequence[Cause], gone: Sequence[bool]) -> FaultSets:
        """The same sets, some causes changing nothing: `gone` says of each cause whether it is one, shape (C,)."""
        first = np.cumsum([0, *(len(cause.variants) for cause in causes)])
        away = np.append(gone, False)
        changes = list(self.changes)
        for row in np.flatnonzero(away[self.members].any(axis=1)):
            left = [
                (c, *r) for c, r in zip(self.members[row], self.severities[row], strict=True) if c >= 0 and not away[c]
            ]
            # The middle severity stands for the whole range, as it does where sets are laid out.
            changes[row] = sum((causes[c].variants[(a + b - 1) // 2 - first[c]] for c, a, b in left), ())
        return replace(self, changes=tuple(changes))

    def joined(self, other: FaultSets) -> FaultSets:
        """These sets followed by others."""
        return _stack([self, replace(other, beside=other.beside + len(self))])


@dataclass(frozen=True)
class _Fault:
    """One cause with the severities in which it is compiled: flat ranges, and the changes that stand for each."""

    cause: int
    ranges: tuple[tuple[int, int], ...]
    changes: tuple[tuple[Change, ...], ...]


def _fine(causes: Sequence[Cause]) -> list[_Fault]:
    """Every cause in all its severities."""
    starts = np.cumsum([0, *(len(c.variants) for c in causes)])
    return [
        _Fault(i, tuple((int(s), int(s) + 1) for s in range(a, a + len(c.variants))), c.variants)
        for i, (c, a) in enumerate(zip(causes, starts, strict=False))
    ]


def _coarse(fault: _Fault) -> _Fault:
    """Severities by threes, the middle one standing for all three; a cause with fewer keeps them."""
    count = len(fault.ranges)
    if count < _COARSE:
        return fault
    cuts = [(i, min(i + _COARSE, count)) for i in range(0, count, _COARSE)]
    ranges = tuple((fault.ranges[a][0], fault.ranges[b - 1][1]) for a, b in cuts)
    return _Fault(fault.cause, ranges, tuple(fault.changes[(a + b - 1) // 2] for a, b in cuts))


def _block(faults: Sequence[_Fault], start: int) -> FaultSets:
    """All severities of one set of causes; the first set of the block has index `start`."""
    sizes = [len(f.ranges) for f in faults]
    grid = np.arange(int(np.prod(sizes))).reshape(sizes) + start
    steps = [np.take(grid, np.clip(np.arange(n) + d, 0, n - 1), axis=k) for k, n in enumerate(sizes) for d in (-1, 1)]
    return FaultSets(
        np.tile([f.cause for f in faults], (grid.size, 1)).astype(np.intp),
        np.array(list(product(*(f.ranges for f in faults))), dtype=np.intp),
        tuple(sum(combination, ()) for combination in product(*(f.changes for f in faults))),
        np.stack([step.ravel() for step in steps], axis=1).astype(np.intp),
    )


def _levels(faults: Sequence[_Fault], start: int) -> FaultSets:
    """One set of causes with all its severities low, then higher together; the first set has index `start`."""
    count = max(len(f.ranges) for f in faults)
    own = np.arange(count)
    steps = [np.clip(own + d, 0, count - 1) for d in (-1, 1)] + [own] * (2 * len(faults) - 2)
    chosen = [[level * (len(f.ranges) - 1) // max(count - 1, 1) for f in faults] for level in range(count)]
    return FaultSets(
        np.tile([f.cause for f in faults], (count, 1)).astype(np.intp),
        np.array([[f.ranges[i] for f, i in zip(faults, row, strict=True)] for row in chosen], dtype=np.intp),
        tuple(sum((f.changes[i] for f, i in zip(faults, row, strict=True)), ()) for row in chosen),
        np.stack(steps, axis=1).astype(np.intp) + start,
    )


def _stack(blocks: Sequence[FaultSets]) -> FaultSets:
    """One block after the other, as wide as the widest; a block's neighbours are counted from the first of all."""
    count, width = sum(len(b) for b in blocks), max(b.members.shape[1] for b in blocks)
    members, severities = np.full((count, width), -1, dtype=np.intp), np.zeros((count, width, 2), dtype=np.intp)
    beside = np.arange(count)[:, None].repeat(2 * width, axis=1)
    start = 0
    for block in blocks:
        rows, k = slice(start, start + len(block)), block.members.shape[1]
        members[rows, :k], severities[rows, :k], beside[rows, : 2 * k] = block.members, block.severities, block.beside
        start += len(block)
    return FaultSets(members, severities, tuple(changes for b in blocks for changes in b.changes), beside)


def sound(count: int) -> FaultSets:
    """Sets without a fault."""
    nothing = np.zeros((count, 0), dtype=np.intp)
    return FaultSets(nothing, np.zeros((count, 0, 2), dtype=np.intp), ((),) * count, nothing)


def singles(causes: Sequence[Cause]) -> FaultSets:
    """The three special hypotheses, which change nothing, then every severity of every cause in order."""
    return _joined([sound(SPECIALS)], [(fault,) for fault in _fine(causes)], _block)


def coarse_rows(causes: Sequence[Cause]) -> Ints:
    """Number of coarse severities of each cause, shape (C,)."""
    return np.array([len(_coarse(fault).ranges) for fault in _fine(causes)], dtype=np.intp)


def blocks(causes: Sequence[Cause], sets: Sequence[Sequence[int]]) -> FaultSets:
    """All coarse severities of each set of causes, block after block."""
    faults = [_coarse(fault) for fault in _fine(causes)]
    return _joined([], [[faults[c] for c in chosen] for chosen in sets], _block)


def levels(causes: Sequence[Cause], sets: Sequence[Sequence[int]]) -> FaultSets:
    """Each set of causes in a few levels: all its severities low, then higher together."""
    faults = [_coarse(fault) for fault in _fine(causes)]
    return _joined([], [[faults[c] for c in chosen] for chosen in sets], _levels)


def _joined(
    first: list[FaultSets], sets: Iterable[Sequence[_Fault]], lay: Callable[[Sequence[_Fault], int], FaultSets]
) -> FaultSets:
    """Lay out sets one after the other, behind what is there."""
    laid, start = first, sum(len(b) for b in first)
    for faults in sets:
        laid.append(lay(faults, start))
        start += len(laid[-1])
    return _stack(laid or [sound(0)])
