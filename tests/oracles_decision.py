"""Slow, obvious twins of the decision's sums: repairs done one after the other on one hypothesis at a time."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations

import numpy as np

from advisor.decision.expected import Restores
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED


def spent(restores: Restores, hypothesis: int, order: Sequence[int], price: Sequence[float], hand_over: float) -> float:
    """Money spent on one vehicle [money]: repairs in order until it works, else handed over."""
    left = {int(cause) for cause in restores.members[hypothesis] if cause >= 0}
    total = 0.0
    for repair in order:
        total += price[repair]
        if repair < len(restores.cures):
            left -= set(np.flatnonzero(restores.cures[repair]).tolist())
        if hypothesis in (NONE, AS_DESIGNED) or (hypothesis != UNLISTED and not left):
            return total
    return total + hand_over


def order_cost(
    restores: Restores, weights: np.ndarray, order: Sequence[int], price: Sequence[float], hand_over: float
) -> float:
    """Expected cost of an order that is stopped where stopping is cheapest [money]."""
    return min(
        sum(w * spent(restores, h, order[:stop], price, hand_over) for h, w in enumerate(weights))
        for stop in range(len(order) + 1)
    )


def cheapest_cost(restores: Restores, weights: np.ndarray, price: Sequence[float], hand_over: float) -> float:
    """Expected cost of the best of all orders [money]."""
    orders = permutations(range(len(price)))
    return min(order_cost(restores, weights, order, price, hand_over) for order in orders)
