"""How good predicted probabilities are: scores of events with weights, checked against published cases.

References:
    G. Brier, "Verification of forecasts expressed in terms of probability", Monthly Weather Review 78, 1950.
    A. Murphy, "A new vector partition of the probability score", Journal of Applied Meteorology 12, 1973; what is left
    inside bins: D. Stephenson, C. Coelho, I. Jolliffe, "Two extra components in the Brier score decomposition",
    Weather and Forecasting 23, 2008 (all from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.network.worlds import Floats, Ints

BINS = 10
RESAMPLES = 1000
_EDGE = 1e-9
"""A probability that misses the edge of its bin by less is in it."""


@dataclass(frozen=True)
class Decomposed:
    """Brier score of one class = reliability - resolution + uncertainty + within."""

    reliability: float
    resolution: float
    uncertainty: float
    within: float

    @property
    def brier(self) -> float:
        """The score."""
        return self.reliability - self.resolution + self.uncertainty + self.within


@dataclass(frozen=True, eq=False)
class Curve:
    """A calibration curve: mean probability, share that happened and weight of each bin, shape (B,) each."""

    said: Floats
    happened: Floats
    weight: Floats

    @property
    def ece(self) -> float:
        """Expected calibration error: weighted mean distance of what was said from what happened."""
        return float(self.weight @ np.abs(self.said - self.happened) / self.weight.sum())


def mean(values: Floats, weight: Floats) -> float:
    """Weighted mean."""
    return float(weight @ values / weight.sum())


def log_loss(p: Floats, y: Floats, weight: Floats) -> float:
    """Mean of -log of what happened [nat]; p and y of one class, shape (N,)."""
    return mean(-np.log(np.where(y > 0.5, p, 1.0 - p)), weight)


def brier_one_class(p: Floats, y: Floats, weight: Floats) -> float:
    """Mean square distance of one class's probability from 0 or 1; half of the sum over two classes."""
    return mean((p - y) ** 2, weight)


def brier_all_classes(p: Floats, y: Floats, weight: Floats) -> float:
    """Mean over cases of the sum over classes of the square distance, shape (N, classes)."""
    return mean(((p - y) ** 2).sum(axis=1), weight)


def equal_width(p: Floats, bins: int = BINS) -> Ints:
    """Bin of each probability, bins of equal width, closed at the left, shape (N,)."""
    return np.minimum(np.floor(bins * p + _EDGE), bins - 1).astype(np.intp)


def equal_mass(p: Floats, weight: Floats, bins: int = BINS) -> Ints:
    """Bin of each probability, bins of equal weight, equal probabilities together, shape (N,)."""
    values, place = np.unique(p, return_inverse=True)
    mass = np.bincount(place.reshape(-1), weight)
    before = np.cumsum(mass) - mass / 2.0
    bin_of = np.minimum((bins * before / mass.sum()).astype(np.intp), bins - 1)
    found: Ints = np.unique(bin_of, return_inverse=True)[1].reshape(-1)[place.reshape(-1)]
    return found if len(values) else np.zeros(0, dtype=np.intp)


def curve(p: Floats, y: Floats, weight: Floats, bin_of: Ints) -> Curve:
    """Calibration curve over bins that hold something."""
    mass: Floats = np.bincount(bin_of, weight).astype(np.float64)
    full = mass > 0.0
    said, happened = (np.bincount(bin_of, weight * v)[full] / mass[full] for v in (p, y))
    return Curve(said, happened, mass[full])


def decomposed(p: Floats, y: Floats, weight: Floats, bin_of: Ints) -> Decomposed:
    """Murphy's parts of the Brier score of one class."""
    found, usual = curve(p, y, weight, bin_of), mean(y, weight)
    reliability = mean((found.said - found.happened) ** 2, found.weight)
    resolution = mean((found.happened - usual) ** 2, found.weight)
    uncertainty = usual * (1.0 - usual)
    rest = brier_one_class(p, y, weight) - (reliability - resolution + uncertainty)
    return Decomposed(reliability, resolution, uncertainty, rest)


def ece_interval(
    p: Floats, y: Floats, weight: Floats, rng: np.random.Generator, bins: int = BINS
) -> tuple[float, float, float]:
    """ECE in bins of equal weight, with the 5 % and 95 % points of resampled cases; small samples bias it upward.

    Cases of one pattern are drawn one by one: weights are counts.
    """
    point = curve(p, y, weight, equal_mass(p, weight, bins)).ece
    drawn = []
    for _ in range(RESAMPLES):
        again = rng.multinomial(int(weight.sum()), weight / weight.sum()).astype(np.float64)
        drawn.append(curve(p, y, again, equal_mass(p, again, bins)).ece)
    low, high = np.quantile(drawn, [0.05, 0.95])
    return point, float(low), float(high)
