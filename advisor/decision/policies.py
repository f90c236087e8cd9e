"""A stock of repair orders, each valued for every class of hypotheses, so that one product values many beliefs.

What an order costs is linear in the belief, so that the least over the stock is an upper bound for every belief: the
idea of J. Pineau, G. Gordon, S. Thrun, "Point-based value iteration", IJCAI 2003 (from memory), with orders found
at beliefs nearby as the points.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.decision.orders import NO_STEP
from advisor.decision.problem import Problem
from advisor.network.worlds import Floats, Ints


@dataclass(frozen=True, eq=False)
class Policies:
    """A orders of at most K repairs, each followed by handing over; the first hands over at once.

    Attributes:
        problem: Over G classes of hypotheses.
        steps: Repairs from first to last, -1 past the end, shape (A, K).
    """

    problem: Problem
    steps: Ints

    @staticmethod
    def of(problem: Problem, steps: Ints, most: int = 16) -> Policies:
        """The different ones of some orders, those that were found most often first, and handing over at once."""
        doing = steps[(steps != NO_STEP).any(axis=1)]
        found, often = np.unique(doing, axis=0, return_counts=True)
        chosen = np.vstack([np.full((1, steps.shape[1]), NO_STEP), found[np.argsort(-often, kind="stable")[:most]]])
        return Policies(problem, chosen[:, : int((chosen != NO_STEP).any(axis=0).sum())])

    @cached_property
    def reach(self) -> Floats:
        """Probability that each step is done, from each class on, shape (A, K, G)."""
        return self._walked[0]

    @cached_property
    def fixed_costs(self) -> Floats:
        """Handing over and undetected failures, which no place changes [money], shape (A, G)."""
        return self._walked[1]

    @cached_property
    def _walked(self) -> tuple[Floats, Floats]:
        problem, repairs = self.problem, self.problem.repairs
        policies, length = self.steps.shape
        reach = np.zeros((policies, length, len(problem.belief)))
        costs = np.full((policies, len(problem.belief)), problem.hand_over)
        for k in reversed(range(length)):
            rows = np.flatnonzero(self.steps[:, k] != NO_STEP)
            repair = self.steps[rows, k]
            later = np.concatenate([reach[rows, k + 1 :], costs[rows, None]], axis=1)
            new = np.zeros_like(later)
            for target, chance in (
                (repairs.after, repairs.success[repair]),
                (repairs.otherwise, 1.0 - repairs.success[repair]),
            ):
                to = target[repair]
                on = np.take_along_axis(later, to[:, None, :], axis=2) * (chance * problem.still[to])[:, None, :]
                on[:, -1] += chance * problem.ended[to]
                new += on
            reach[rows, k], reach[rows, k + 1 :], costs[rows] = 1.0, new[:, :-1], new[:, -1]
        return reach, costs

    def costs(self, opened: Iterable[int]) -> Floats:
        """Expected cost of each order from each class on, with some places open [money], shape (A, G)."""
        access, places = self.problem.access, self.problem.repairs.place
        closed = np.tile(access.closed(opened), (len(self.steps), 1))
        prices = np.zeros(self.steps.shape)
        for k, repair in enumerate(self.steps.T):
            way = access.inside[places[repair]]
            price = self.problem.repairs.price[repair] + (closed * way) @ access.price
            prices[:, k] = np.where(repair == NO_STEP, 0.0, price)
            closed *= 1.0 - np.where(repair[:, None] == NO_STEP, 0.0, way)
        costs: Floats = self.fixed_costs + np.matmul(prices[:, None, :], self.reach)[:, 0]
        return costs
