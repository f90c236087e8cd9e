"""Elementary symmetric sums: the mass of all sets of exactly k faulty parts."""

from __future__ import annotations

import numpy as np

from advisor.network.worlds import Floats


def symmetric_sums(part_odds: Floats, size: int) -> Floats:
    """Elementary symmetric sums e_0 ... e_size of the parts' odds: mass of exactly k faulty parts, unnormalised.

    The recurrence only adds, so nothing cancels.
    """
    sums = np.zeros(size + 1)
    sums[0] = 1.0
    for value in part_odds:
        sums[1:] += value * sums[:-1].copy()
    return sums


def sums_without_each(part_odds: Floats, size: int) -> Floats:
    """`symmetric_sums` of all parts but one, for each part, shape (P, size + 1); nothing is divided out again."""
    sums = np.zeros((len(part_odds), size + 1))
    sums[:, 0] = 1.0
    for part, value in enumerate(part_odds):
        others = np.full(len(part_odds), value)
        others[part] = 0.0
        sums[:, 1:] += others[:, None] * sums[:, :-1].copy()
    return sums
