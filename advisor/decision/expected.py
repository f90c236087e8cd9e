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

    def merged(self) -> tuple[Restores, Ints]:
        """Merge hypotheses that the same repairs cure, which costs nothing: the cost depends on a class's mass only.

        Gives the classes as hypotheses of their own, the special ones first, and the class of each hypothesis,
        shape (H,).
        """
        cures, set_of = np.unique(self.cures, axis=1, return_inverse=True)
        sets = np.sort(np.append(set_of.ravel(), -1)[self.members], axis=1)
        sets[:, 1:][sets[:, 1:] == sets[:, :-1]] = -1  # cured by what cures another member
        special = np.minimum(np.arange(len(sets)), SPECIALS)
        classes, class_of = np.unique(np.column_stack([special, -np.sort(-sets, axis=1)]), axis=0, return_inverse=True)
        return Restores(classes[:, 1:], cures), class_of.ravel()


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


def expected_costs(restores: Restores, touched: Floats, masses: Floats, price: Floats, hand_over: float) -> Orders:
    """Find the order and the expected cost for each of Q distributions.

    Args:
        restores: Of R repairs, C causes, H hypotheses.
        touched: Mass that each repair touches, explaining last: `restores.touches().T @ masses`, shape (R + 1, Q).
        masses: Not necessarily normalised, shape (H, Q).
        price: Cost of each repair, verification included, explaining last [money], shape (R + 1,) or (Q, R + 1).
        hand_over: Price of handing over [money].
    """
    order = np.argsort(-touched.T / np.maximum(price, _FREE), axis=1, kind="stable")
    queries, steps = order.shape
    position = np.empty((steps, queries), dtype=np.int32)
    np.put_along_axis(position, order.T, np.arange(steps, dtype=np.int32)[:, None], axis=0)
    prices = np.take_along_axis(np.broadcast_to(price, order.shape), order, axis=1)
    prefix = np.pad(np.cumsum(prices, axis=1), ((0, 0), (1, 0)))
    slots = _finish(restores, position) + np.arange(queries, dtype=np.int32) * (steps + 1)
    mass = np.bincount(slots.ravel(), masses.ravel(), minlength=queries * (steps + 1)).reshape(queries, -1)
    # Slot t holds what is fixed by the repair at position t; the last slot is never fixed.
    fixed = np.pad(np.cumsum(mass[:, :-1] * prefix[:, 1:], axis=1), ((0, 0), (1, 0)))
    left = mass.sum(axis=1, keepdims=True) - np.pad(np.cumsum(mass[:, :-1], axis=1), ((0, 0), (1, 0)))
    totals = fixed + left * (prefix + hand_over)
    stop = totals.argmin(axis=1)
    return Orders(np.take_along_axis(totals, stop[:, None], axis=1)[:, 0], order, stop)


def _finish(restores: Restores, position: NDArray[np.int32]) -> NDArray[np.int32]:
    """Position at which each hypothesis is cured, shape (H, Q); past the end if never."""
    never = len(position)
    first = np.full((restores.cures.shape[1] + 1, position.shape[1]), never, dtype=np.int32)
    for cured, own in zip(restores.cures, position[:-1], strict=True):
        first[:-1][cured] = np.minimum(first[:-1][cured], own)
    first[-1] = -1  # a missing member is cured before anything is done
    finish = first[restores.members[:, 0]]
    for column in restores.members.T[1:]:  # few sets are large, so only those that go on are looked at
        held = np.flatnonzero(column >= 0)
        finish[held] = np.maximum(finish[held], first[column[held]])
    # With nothing wrong, the first step's verification already ends the case.
    finish[:SPECIALS] = never
    finish[[NONE, AS_DESIGNED]] = 0
    return finish
