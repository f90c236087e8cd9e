"""What may be said of a candidate: better, no worse, worse, or that there are too few orders to say.

"Better" takes the lower end of a one-sided 95 % interval of the mean gain on orders that the fit has not seen, and a
gain that is worth it; the interval is Student's, from differences of pairs, and too short where few odd orders decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import stats  # type: ignore[import-untyped]  # it ships no types

from advisor.network.worlds import Floats

Verdict = Literal["better", "no worse", "worse", "too few orders"]
LEAST_ORDERS = 30
"""Confirmed orders that were kept back, below which nothing is said."""
WORTH = 0.01
"""Gain or loss below which nothing is better or worse, however sure it is [nat]: judgement.  A fit of few orders holds
the handbook so firmly that it differs by thousandths of a nat; of these one in twelve would be better by chance."""
TOLERATED = 0.05
"""Loss that still counts as no worse [nat]: judgement."""
TOLERATED_COST = 0.02
"""The same of the cost to fix, as a share of it: judgement."""
SIDE = 0.95


@dataclass(frozen=True)
class Gain:
    """Mean gain of new against old over pairs, and its one-sided 95 % limits on either side."""

    mean: float
    low: float
    high: float
    orders: float

    @staticmethod
    def of(old: Floats, new: Floats, weight: Floats) -> Gain:
        """Gain old - new of pairs with counts, shape (N,) each; no limits below two orders."""
        orders = float(weight.sum())
        if orders < 2.0:
            return Gain(0.0, -np.inf, np.inf, orders)
        difference = old - new
        mean = float(weight @ difference / orders)
        variance = float(weight @ (difference - mean) ** 2) / (orders - 1.0)
        half = float(stats.t.ppf(SIDE, orders - 1.0)) * np.sqrt(variance / orders)
        return Gain(mean, mean - half, mean + half, orders)


def verdict(loss: Gain, cost: Gain, usual_cost: float) -> Verdict:
    """Judge a candidate.

    Args:
        loss: Gain of log loss on orders that the fit has not seen [nat].
        cost: Gain of the cost to fix of the same orders [money].
        usual_cost: Mean cost with the old priors [money].
    """
    least = -TOLERATED_COST * usual_cost
    if loss.orders < LEAST_ORDERS:
        return "too few orders"
    if (loss.high < 0.0 and loss.mean < -WORTH) or cost.high < least:
        return "worse"
    if loss.low > 0.0 and loss.mean > WORTH and cost.mean > least:
        return "better"
    return "no worse" if loss.low > -TOLERATED and cost.low > least else "too few orders"
