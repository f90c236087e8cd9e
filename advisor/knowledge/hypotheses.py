"""Which fault sets are compiled, and how each changes the circuit.

Singles are always complete, with all severities of a high resistance.  Pairs come in whole blocks (all
severities of both causes, coarser ones) in falling prior until at most a share of the pairs' mass is
left out or the wanted number of hypotheses is reached.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from numpy.typing import NDArray

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
        share: Part of its causes' prior that each set carries, shape (H,).
        changes: The electrical changes of each set.
        beside: Sets that differ by one step of severity: milder and worse of the first cause, then of the
            second; a set's own index where there is none; shape (H, 4).
    """

    members: Ints
    share: Floats
    changes: tuple[tuple[Change, ...], ...]
    beside: Ints

    def __len__(self) -> int:
        return len(self.share)

    def joined(self, other: FaultSets) -> FaultSets:
        """These sets followed by others."""
        return FaultSets(
            np.concatenate([self.members, other.members]),
            np.concatenate([self.share, other.share]),
            self.changes + other.changes,
            np.concatenate([self.beside, other.beside + len(self)]),
        )


def _block(indices: tuple[int, ...], variants: Sequence[Sequence[tuple[Change, ...]]], start: int) -> FaultSets:
    """All severities of one set of causes; the first set of the block has index `start`."""
    sizes = [len(v) for v in variants] + [1] * (2 - len(variants))
    grid = np.arange(int(np.prod(sizes))).reshape(sizes) + start
    steps = [np.take(grid, np.clip(np.arange(n) + d, 0, n - 1), axis=k) for k, n in enumerate(sizes) for d in (-1, 1)]
    count = grid.size
    return FaultSets(
        np.tile([*indices, *[-1] * (2 - len(indices))], (count, 1)).astype(np.intp),
        np.full(count, 1.0 / count),
        tuple(sum(combination, ()) for combination in product(*variants)),
        np.stack([step.ravel() for step in steps], axis=1).astype(np.intp),
    )


def _stack(blocks: Sequence[FaultSets]) -> FaultSets:
    return FaultSets(
        np.concatenate([b.members for b in blocks]),
        np.concatenate([b.share for b in blocks]),
        tuple(changes for b in blocks for changes in b.changes),
        np.concatenate([b.beside for b in blocks]),
    )


def singles(causes: Sequence[Cause]) -> FaultSets:
    """The three special hypotheses, which change nothing, and every single fault in every severity."""
    start, blocks = SPECIALS, []
    none = np.arange(SPECIALS)[:, None].repeat(4, axis=1)
    blocks.append(FaultSets(np.full((SPECIALS, 2), -1, dtype=np.intp), np.ones(SPECIALS), ((),) * SPECIALS, none))
    for index, cause in enumerate(causes):
        blocks.append(_block((index,), [cause.variants], start))
        start += len(cause.variants)
    return _stack(blocks)


def pairs(causes: Sequence[Cause], cause_odds: Floats, most: int) -> FaultSets:
    """Blocks of pairs in falling prior, about `most` sets in all."""
    ranked = sorted(
        (pair for pair in combinations(range(len(causes)), 2) if causes[pair[0]].part != causes[pair[1]].part),
        key=lambda pair: (-cause_odds[pair[0]] * cause_odds[pair[1]], pair),
    )
    mass = np.array([cause_odds[a] * cause_odds[b] for a, b in ranked])
    enough = int(np.searchsorted(np.cumsum(mass), (1.0 - LEFT_OUT_AT_MOST) * mass.sum())) + 1 if len(mass) else 0
    blocks: list[FaultSets] = []
    count = 0
    for a, b in ranked[:enough]:
        if count >= most:
            break
        block = _block((a, b), [_coarse(causes[a]), _coarse(causes[b])], count)
        blocks.append(block)
        count += len(block)
    return _stack(blocks) if blocks else FaultSets(np.zeros((0, 2), np.intp), np.zeros(0), (), np.zeros((0, 4), np.intp))


def _coarse(cause: Cause) -> Sequence[tuple[Change, ...]]:
    """Every third severity from the second on, or the only one."""
    return cause.variants[1::_COARSE] if len(cause.variants) >= _COARSE else cause.variants
