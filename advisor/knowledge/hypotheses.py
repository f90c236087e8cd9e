"""Which fault sets are compiled, and how each changes the circuit.

Singles are always complete, with all severities of a high resistance.  Pairs come in whole blocks (all
severities of both causes, coarser ones) in falling prior until at most a share of the pairs' mass is
left out or the wanted number of hypotheses is reached.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, pairwise, product

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.faults import Faults
from advisor.circuit.netlist import Change
from advisor.knowledge.wiring import Cause
from advisor.network.worlds import SPECIALS

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

LEFT_OUT_AT_MOST = 0.01
_COARSE = 3
"""Severities of a high resistance inside a pair: every third of the single fault's."""


@dataclass(frozen=True)
class FaultSets:
    """Fault sets in order.

    Attributes:
        members: Cause indices, -1 where fewer, shape (H, 2).
        severities: First and one past the last severity of each member, counted over all causes, shape (H, 2, 2).
        changes: The electrical changes of each set.
        beside: Sets that differ by one step of severity: milder and worse of the first cause, then of the
            second; a set's own index where there is none; shape (H, 4).
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

    def joined(self, other: FaultSets) -> FaultSets:
        """These sets followed by others."""
        return FaultSets(
            np.concatenate([self.members, other.members]),
            np.concatenate([self.severities, other.severities]),
            self.changes + other.changes,
            np.concatenate([self.beside, other.beside + len(self)]),
        )


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


def _block(faults: tuple[_Fault, ...], start: int) -> FaultSets:
    """All severities of one set of causes; the first set of the block has index `start`."""
    absent = 2 - len(faults)
    sizes = [len(f.ranges) for f in faults] + [1] * absent
    grid = np.arange(int(np.prod(sizes))).reshape(sizes) + start
    steps = [np.take(grid, np.clip(np.arange(n) + d, 0, n - 1), axis=k) for k, n in enumerate(sizes) for d in (-1, 1)]
    ranges = [[*combination, *[(0, 0)] * absent] for combination in product(*(f.ranges for f in faults))]
    return FaultSets(
        np.tile([*(f.cause for f in faults), *[-1] * absent], (grid.size, 1)).astype(np.intp),
        np.array(ranges, dtype=np.intp),
        tuple(sum(combination, ()) for combination in product(*(f.changes for f in faults))),
        np.stack([step.ravel() for step in steps], axis=1).astype(np.intp),
    )


def _stack(blocks: Sequence[FaultSets]) -> FaultSets:
    return FaultSets(
        np.concatenate([b.members for b in blocks]),
        np.concatenate([b.severities for b in blocks]),
        tuple(changes for b in blocks for changes in b.changes),
        np.concatenate([b.beside for b in blocks]),
    )


def _empty(count: int) -> FaultSets:
    """Sets without a fault."""
    beside = np.arange(count)[:, None].repeat(4, axis=1)
    members, severities = np.full((count, 2), -1, dtype=np.intp), np.zeros((count, 2, 2), dtype=np.intp)
    return FaultSets(members, severities, ((),) * count, beside)


def singles(causes: Sequence[Cause]) -> FaultSets:
    """The three special hypotheses, which change nothing, then every severity of every cause in order."""
    blocks, start = [_empty(SPECIALS)], SPECIALS
    for fault in _fine(causes):
        blocks.append(_block((fault,), start))
        start += len(fault.ranges)
    return _stack(blocks)


def pairs(causes: Sequence[Cause], pair_mass: Floats, most: int) -> FaultSets:
    """Blocks of pairs in falling prior mass, shape (C, C), about `most` sets in all."""
    ranked = sorted(
        (pair for pair in combinations(range(len(causes)), 2) if causes[pair[0]].part != causes[pair[1]].part),
        key=lambda pair: (-pair_mass[pair], pair),
    )
    mass = np.array([pair_mass[pair] for pair in ranked])
    enough = int(np.searchsorted(np.cumsum(mass), (1.0 - LEFT_OUT_AT_MOST) * mass.sum())) + 1 if len(mass) else 0
    faults = [_coarse(fault) for fault in _fine(causes)]
    blocks: list[FaultSets] = []
    count = 0
    for a, b in ranked[:enough]:
        if count >= most:
            break
        blocks.append(_block((faults[a], faults[b]), count))
        count += len(blocks[-1])
    return _stack(blocks) if blocks else _empty(0)
