"""Repairs without tests: orders by probability over cost, what they cost, and where to hand over.

The order is renewed after each failure, which plain probability over cost is not: J. Kadane, H. Simon, "Optimal
strategies for a class of constrained sequential problems", Annals of Statistics 5, 1977, has it optimal for disjoint
single cures only; where repairs overlap, `improved` swaps and drops steps until neither helps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decision.problem import Problem, Stage
from advisor.network.tables import Groups
from advisor.network.worlds import Floats, Ints

_FREE = 1e-9
"""A repair that costs nothing is tried first, the likeliest of several first [money]."""
NO_STEP = -1


@dataclass(frozen=True, eq=False)
class Columns:
    """Q cases at once.

    Attributes:
        weights: Over the hypotheses, not necessarily normalised, shape (H, Q).
        closed: 1 where a place is closed, shape (Q, P).
        left: Repairs that can still be done, shape (Q, R).
    """

    weights: Floats
    closed: Floats
    left: np.ndarray[tuple[int, int], np.dtype[np.bool_]]


@dataclass(frozen=True, eq=False)
class Orders:
    """An order for each of Q cases.

    Attributes:
        cost: Expected cost [money x total weight], shape (Q,).
        steps: Repairs from first to last, -1 from where the vehicle is handed over, shape (Q, K).
    """

    cost: Floats
    steps: Ints

    def first(self) -> Ints:
        """The first repair of each case, -1 for handing over, shape (Q,)."""
        return self.steps[:, 0] if self.steps.shape[1] else np.full(len(self.cost), NO_STEP)

    def of(self, case: int) -> tuple[int, ...]:
        """The order of one case."""
        return tuple(int(step) for step in self.steps[case] if step != NO_STEP)


@dataclass(frozen=True, eq=False)
class Mover:
    """A problem's repairs, made ready to act on many cases at once."""

    problem: Problem
    to_after: tuple[Groups, ...]
    to_otherwise: tuple[Groups, ...]
    progress: Floats

    @staticmethod
    def of(problem: Problem) -> Mover:
        """Prepare the repairs of a problem."""
        repairs, count = problem.repairs, len(problem.belief)
        own = np.arange(count)
        after = tuple(Groups.of(row[:, None], count) for row in repairs.after)
        otherwise = tuple(Groups.of(row[:, None], count) for row in repairs.otherwise)
        ends = np.where(repairs.after != own, 1.0, problem.passes)
        failed = np.where(repairs.otherwise != own, 0.0, problem.passes)
        return Mover(problem, after, otherwise, repairs.success * ends + (1.0 - repairs.success) * failed)

    def repaired(self, weights: Floats, repair: int) -> Floats:
        """Weights once a repair is done and before it is proved, shape (H, Q)."""
        done = weights * self.problem.repairs.success[repair][:, None]
        result: Floats = self.to_after[repair].sums(done)
        result += self.to_otherwise[repair].sums(weights - done)
        return result

    def case(self, stage: Stage, weights: Floats) -> Columns:
        """One case, weights of shape (H,), as columns."""
        left = np.zeros((1, len(self.problem.repairs.price)), dtype=bool)
        left[0, self.problem.repairs_left(stage)] = True
        return Columns(weights[:, None], self.problem.access.closed(stage.opened)[None, :], left)

    def greedy(self, cases: Columns) -> Orders:
        """Take, again and again, the repair that most likely gets further for its price; hand over where cheapest."""
        problem, access = self.problem, self.problem.access
        weights, closed, left = cases.weights.copy(), cases.closed.copy(), cases.left.copy()
        paid, mass = np.zeros(weights.shape[1]), weights.sum(axis=0)
        best, stop, steps = mass * problem.hand_over, np.zeros(len(mass), dtype=np.intp), []
        active = np.arange(len(mass))
        while active.size:
            prices = problem.repairs.price + ((closed[active] * access.price) @ access.inside.T)[:, problem.repairs.place]
            gain = (self.progress @ weights[:, active]).T
            rank = np.where(left[active] & (gain > 0.0), gain / np.maximum(prices, _FREE), -1.0)
            pick = rank.argmax(axis=1) if rank.shape[1] else np.zeros(len(active), dtype=np.intp)
            # What costs more already than the best way to stop will not come back under it.
            worth_it = (rank.max(axis=1, initial=-1.0) > 0.0) & (paid[active] < best[active])
            active, pick, prices = active[worth_it], pick[worth_it], prices[worth_it]
            if not active.size:
                break
            paid[active] += prices[np.arange(len(active)), pick] * mass[active]
            left[active, pick] = False
            closed[active] *= 1.0 - access.inside[problem.repairs.place[pick]]
            for repair in np.unique(pick):
                chosen = active[pick == repair]
                done = self.repaired(weights[:, chosen], int(repair))
                paid[chosen] += problem.ended @ done
                weights[:, chosen] = done * problem.still[:, None]
            mass[active] = weights[:, active].sum(axis=0)
            steps.append(np.full(len(mass), NO_STEP))
            steps[-1][active] = pick
            total = paid + mass * problem.hand_over
            better = active[total[active] < best[active]]
            best[better], stop[better] = total[better], len(steps)
        table = np.array(steps, dtype=np.intp).reshape(len(steps), len(mass)).T
        return Orders(best, np.where(np.arange(len(steps)) < stop[:, None], table, NO_STEP))


def order_cost(problem: Problem, stage: Stage, weights: Floats, order: Sequence[int]) -> float:
    """Expected cost of repairs in a given order, then of handing over [money x total weight]."""
    total = 0.0
    for repair in order:
        total += float(weights.sum()) * float(problem.repair_prices(stage.opened)[repair])
        done = problem.repaired(weights, repair)
        total += float(problem.ended @ done)
        weights, stage = done * problem.still, problem.after_repair(stage, repair)
    return total + float(weights.sum()) * problem.hand_over


def improved(problem: Problem, stage: Stage, weights: Floats, order: Sequence[int]) -> tuple[int, ...]:
    """Swap neighbours and drop steps of an order as long as that makes it cheaper.

    Neighbours that are better swapped are a sign of an order that is not the best (F. Jensen and others, "The
    SACSO methodology for troubleshooting complex systems", AI EDAM 15, 2001; from memory).
    """
    best = tuple(order)
    cost = order_cost(problem, stage, weights, best)
    while True:
        swapped = [(*best[:i], best[i + 1], best[i], *best[i + 2 :]) for i in range(len(best) - 1)]
        dropped = [(*best[:i], *best[i + 1 :]) for i in range(len(best))]
        costs = [order_cost(problem, stage, weights, other) for other in (*swapped, *dropped)]
        if not costs or min(costs) >= cost - 1e-12 * max(cost, 1.0):
            return best
        index = int(np.argmin(costs))
        best, cost = (*swapped, *dropped)[index], costs[index]
