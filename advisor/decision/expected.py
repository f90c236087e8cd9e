"""Expected cost of repair, for many sets of weights at once.

Repairs are tried in falling probability over cost, each verified.  With T(h) the position at which the last
fault of h is cured, ECR = min over k of sum_h w_h [prefix(T) if T <= k, else prefix(k) + C]: after k repairs
the vehicle is handed over at price C.  For disjoint single cures the order is optimal (J. Kadane, H. Simon,
"Optimal strategies for a class of constrained sequential problems", Annals of Statistics 5, 1977); in general
the cost is an upper bound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


_FREE = 1e-9
"""A repair that costs nothing is tried first, the likeliest of several first [money]."""


@dataclass(frozen=True)
class Restores:
    """Which repair cures what.

    Attributes:
        members: Causes of each hypothesis, -1 where fewer, shape (H, K).
        cures: Which repair restores which cause, shape (R, C).
    """

    members: Ints
    cures: Bools

    def touches(self) -> Floats:
        """1 where a repair restores some cause of a hypothesis, shape (H, R + 1); the last column is to explain."""
        cured = np.pad(self.cures.T, ((0, 1), (0, 0)))  # cause -1: no repair
        result = np.zeros((len(self.members), len(self.cures) + 1))
        result[:, :-1] = cured[self.members].any(axis=1)
        result[[NONE, AS_DESIGNED], -1] = 1.0
        return result


@dataclass(frozen=True)
class Orders:
    """Orders of repairs and what they cost.

    Attributes:
        cost: Expected cost of each column's weights [money x total weight], shape (Q,).
        order: Repairs from first to last, R stands for explaining, shape (Q, R + 1).
        stop: How many of them are tried before handing over, shape (Q,).
    """

    cost: Floats
    order: Ints
    stop: Ints


def expected_costs(restores: Restores, touches: Floats, weights: Floats, price: Floats, hand_over: float) -> Orders:
    """Find the order and the expected cost for each column of weights.

    Args:
        restores: Of R repairs, C causes, H hypotheses.
        touches: From `restores.touches()`, shape (H, R + 1).
        weights: Not necessarily normalised, shape (Q, H).
        price: Cost of each repair, verification included, explaining last [money], shape (R + 1,).
        hand_over: Price of handing over [money].
    """
    order = np.argsort(-(weights @ touches) / np.maximum(price, _FREE), axis=1, kind="stable")
    position = np.empty_like(order)
    np.put_along_axis(position, order, np.arange(order.shape[1])[None, :].repeat(len(order), axis=0), axis=1)
    finish = _finish(restores, position)
    prefix = np.pad(np.cumsum(price[order], axis=1), ((0, 0), (1, 0)))
    slots = order.shape[1] + 1
    flat = (finish + np.arange(len(order))[:, None] * slots).ravel()
    mass = np.bincount(flat, weights.ravel(), minlength=len(order) * slots).reshape(-1, slots)
    # Slot t holds what is fixed by the repair at position t; the last slot is never fixed.
    fixed = np.pad(np.cumsum(mass[:, :-1] * prefix[:, 1:], axis=1), ((0, 0), (1, 0)))
    left = mass.sum(axis=1, keepdims=True) - np.pad(np.cumsum(mass[:, :-1], axis=1), ((0, 0), (1, 0)))
    totals = fixed + left * (prefix + hand_over)
    stop = totals.argmin(axis=1)
    return Orders(np.take_along_axis(totals, stop[:, None], axis=1)[:, 0], order, stop)


def _finish(restores: Restores, position: Ints) -> Ints:
    """Position at which each hypothesis is cured, shape (Q, H); past the end if never."""
    never = position.shape[1]
    repairs, causes = restores.cures.shape
    first = np.full((len(position), causes + 1), never)
    for repair in range(repairs):
        cured = restores.cures[repair]
        first[:, :-1][:, cured] = np.minimum(first[:, :-1][:, cured], position[:, repair, None])
    first[:, -1] = -1  # a missing member is cured before anything is done
    finish: Ints = first[:, restores.members].max(axis=2)
    # With nothing wrong, the first step's verification already ends the case.
    finish[:, :SPECIALS] = never
    finish[:, [NONE, AS_DESIGNED]] = 0
    return finish
