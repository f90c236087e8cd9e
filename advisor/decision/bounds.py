"""What no plan can cost less than: each vehicle repaired by somebody who knows its fault.

M. Hauskrecht, "Value-function approximations for partially observable Markov decision processes", Journal of
Artificial Intelligence Research 13, 2000, section 4.1 (the MDP bound; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from advisor.decision.orders import NO_STEP
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import Floats, Ints

_ROUNDS = 500
_SETTLED = 1e-12
_SHOWN = 0.5
"""Chance that the complaint does not show from which it can be called right as it is."""


@dataclass(frozen=True, eq=False)
class KnownFault:
    """Expected cost for each hypothesis if it were known, access after the first repair left out."""

    problem: Problem
    _kept: dict[frozenset[int], Floats] = field(default_factory=dict)

    def rest(self, done: frozenset[int]) -> Floats:
        """What still comes once a repair is paid for, for the repairs that are left [money], shape (left, H)."""
        found = self._kept.get(done)
        if found is None:
            found = self._kept[done] = self._solve(self.problem.repairs_left(Stage(repairs=done)))
        return found

    def cost(self, stage: Stage) -> Floats:
        """The lower of handing over and the cheapest way to repair each hypothesis [money], shape (H,)."""
        left, rest = self.problem.repairs_left(stage), self.rest(stage.repairs)
        price = self.problem.repair_prices(stage.opened)[left]
        cost: Floats = (rest + price[:, None]).min(axis=0, initial=self.problem.hand_over)
        return cost

    def first(self, stage: Stage) -> Ints:
        """The repair that begins the cheapest way of each hypothesis, -1 where handing over costs less, shape (H,).

        It is one that does something: access is left out behind a first repair, which would make any cheap one look
        good.
        """
        problem, left = self.problem, self.problem.repairs_left(stage)
        if not left:
            return np.full(len(problem.belief), NO_STEP)
        costs = self.rest(stage.repairs) + problem.repair_prices(stage.opened)[left][:, None]
        costs[(problem.repairs.after[left] == np.arange(len(problem.belief))) & (problem.passes < _SHOWN)] = np.inf
        choice = np.array(left, dtype=np.intp)[costs.argmin(axis=0)]
        return np.where(costs.min(axis=0) < self.problem.hand_over, choice, NO_STEP)

    def bound(self, stage: Stage, weights: Floats) -> float:
        """A lower bound for every plan [money x total weight]."""
        return float(self.cost(stage) @ weights)

    def _solve(self, left: list[int]) -> Floats:
        """Solve min over repairs of price + what comes after, each repair as often as wanted, places all open.

        Every round from zero is a lower bound, so that stopping early is safe.  What stays as it is is tried again
        until it changes: a geometric series.
        """
        problem, repairs = self.problem, self.problem.repairs
        targets = np.stack([repairs.after[left], repairs.otherwise[left]])
        chance = np.stack([repairs.success[left], 1.0 - repairs.success[left]])
        on, own = chance * problem.still[targets], targets == np.arange(len(problem.belief))
        again = np.where(own, on, 0.0).sum(axis=0)
        paid = repairs.price[left][:, None] + (chance * problem.ended[targets]).sum(axis=0)
        cost = np.zeros(len(problem.belief))
        for _ in range(_ROUNDS):
            spent = paid + np.where(own, 0.0, on * cost[targets]).sum(axis=0)
            way = np.divide(spent, 1.0 - again, out=np.full_like(spent, np.inf), where=again < 1.0 - _SETTLED)
            new = way.min(axis=0, initial=problem.hand_over)
            if (np.abs(new - cost) <= _SETTLED * problem.hand_over).all():
                break
            cost = new
        rest: Floats = (chance * (problem.ended[targets] + problem.still[targets] * cost[targets])).sum(axis=0)
        return rest
