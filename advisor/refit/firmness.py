"""How firmly the handbook is held: chosen by what predicts orders left out, and in doubt the firmer.

A shop with few orders learns nothing from most of them; the usual spread of rates would make it follow noise.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from advisor.network.worlds import Floats
from advisor.refit.counted import Counted
from advisor.refit.fitting import Gamma, fit
from advisor.refit.predicting import log_chances

FIRMNESS = (1.0, 3.0, 10.0, 30.0, 100.0)
"""Times the usual gamma shape; the last is as good as the handbook itself."""
FOLDS = 4
_SWEEPS = 25
_ENOUGH = 1e-5
"""Gain of a sweep for each order at which to stop [nat]: far below what tells one hold from another."""


def firmness(counted: Counted, shape: Callable[[float], Floats], seed: int, grid: Sequence[float] = FIRMNESS) -> float:
    """Choose how firmly to hold the handbook: the firmest within one standard error of the best.

    One standard error: L. Breiman and others, "Classification and Regression Trees", 1984 (from memory).

    Args:
        counted: Patterns to learn from.
        shape: Gamma shapes of the factors at a firmness.
        seed: Of the random numbers that part the orders.
        grid: What to choose from, rising.
    """
    rng, number = np.random.default_rng(seed), counted.count.astype(np.int64)
    fold = rng.multinomial(number, np.full(FOLDS, 1.0 / FOLDS)).astype(np.float64)
    loss = np.array([_left_out(counted, fold, shape(firmer)) for firmer in grid])
    total = loss @ fold_weights(fold)
    best, orders = int(np.argmin(total)), float(number.sum())
    for place in range(len(grid) - 1, best, -1):
        gap, weight = loss[place] - loss[best], fold_weights(fold)
        mean = float(weight @ gap) / orders
        error = np.sqrt(float(weight @ (gap - mean) ** 2) / max(orders - 1.0, 1.0) / orders)
        if mean <= error:
            return grid[place]
    return grid[best]


def fold_weights(fold: Floats) -> Floats:
    """Orders of each pattern and fold in one row, shape (N folds,)."""
    return fold.T.reshape(-1)


def _left_out(counted: Counted, fold: Floats, shape: Floats) -> Floats:
    """-log P of each pattern by what was fitted without the fold, fold by fold [nat], shape (N folds,)."""
    rest = fold.sum(axis=1, keepdims=True) - fold
    fits = [
        fit(counted.times(np.maximum(own, 0.0)), Gamma.around_one(shape), sweeps=_SWEEPS, enough=_ENOUGH)
        for own in rest.T
    ]
    return np.concatenate([-log_chances(counted, found.factors) for found in fits])
