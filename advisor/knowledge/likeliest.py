"""Which fault sets are enumerated where causes have any odds: the likeliest first, closed under removal."""

from __future__ import annotations

import heapq

import numpy as np
from numpy.typing import NDArray

from advisor.network.worlds import SPECIALS

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

TOGETHER = 6
"""Causes that a fault set may hold."""


def likeliest_sets(odds: Floats, part: Ints, most: int) -> Ints:
    """Causes of each hypothesis, -1 where fewer, shape (H, K): the special ones, all singles, then likely larger sets.

    Larger sets come in falling product of their odds, odds above 1 counting as 1, so that every set comes after all
    that is left of it when something is taken away.

    Args:
        odds: Of each cause, shape (C,).
        part: Index of its part, shape (C,).
        most: About how many sets in all.
    """
    order = np.argsort(-np.minimum(odds, 1.0), kind="stable")
    value = np.minimum(odds, 1.0)[order]
    together = min(TOGETHER, len(set(part.tolist())))
    heap: list[tuple[float, int, tuple[int, ...]]] = [(-float(value[0]), 1, (0,))]
    larger: list[tuple[int, ...]] = []
    room = max(most - SPECIALS - len(odds), 0)
    while heap and len(larger) < room:
        weight, size, chosen = heapq.heappop(heap)
        last = chosen[-1]
        if len({int(part[order[i]]) for i in chosen}) == size > 1:
            larger.append(tuple(sorted(int(order[i]) for i in chosen)))
        if last + 1 < len(value):
            rest = float(np.prod(value[list(chosen[:-1])]))
            heapq.heappush(heap, (-rest * float(value[last + 1]), size, (*chosen[:-1], last + 1)))
            if size < together:
                heapq.heappush(heap, (weight * float(value[last + 1]), size + 1, (*chosen, last + 1)))
    larger.sort(key=len)
    known: set[tuple[int, ...]] = {(cause,) for cause in range(len(odds))}
    for each in larger:
        if all((*each[:i], *each[i + 1 :]) in known for i in range(len(each))):
            known.add(each)
    kept = [each for each in larger if each in known]
    rows: list[tuple[int, ...]] = [(), (), (), *((cause,) for cause in range(len(odds))), *kept]
    width = max(len(row) for row in rows)
    return np.array([(*row, *[-1] * (width - len(row))) for row in rows], dtype=np.intp)
