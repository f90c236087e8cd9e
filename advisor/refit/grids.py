"""The posterior of a small chance on a grid, whatever says something of it."""

from __future__ import annotations

import numpy as np
from scipy import stats  # type: ignore[import-untyped]  # it ships no types

from advisor.network.worlds import Floats

LEVEL = 0.9
GRID: Floats = np.logspace(-5.0, np.log10(0.5), 400)
"""Chances, even in their logarithms, shape (G,)."""


def believed(grid: Floats, mean: float, weight: float) -> Floats:
    """Logarithm of a beta density beforehand by steps of a grid that is even in logarithms, shape of `grid`.

    Args:
        grid: Chances.
        mean: Of the beta variable.
        weight: How many observations it counts for.
    """
    density: Floats = stats.beta.logpdf(grid, weight * mean, weight * (1.0 - mean)) + np.log(grid)
    return density


def ends(grid: Floats, log: Floats) -> tuple[float, float, float]:
    """Lower end, median and upper end of a 90 % interval from logarithms of the posterior, shape of `grid`."""
    mass = np.exp(log - log.max())
    below = (np.cumsum(mass) - mass / 2.0) / mass.sum()
    low, middle, high = np.interp([(1 - LEVEL) / 2, 0.5, (1 + LEVEL) / 2], below, grid)
    return float(low), float(middle), float(high)


def variance(grid: Floats, log: Floats) -> float:
    """Variance of the chance."""
    mass = np.exp(log - log.max())
    mean = float(mass @ grid / mass.sum())
    return float(mass @ (grid - mean) ** 2 / mass.sum())
