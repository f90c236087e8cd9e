"""Repairs without tests: orders by probability over cost, what they cost, and where to hand over.

The order is renewed after each failure, which plain probability over cost is not: J. Kadane, H. Simon, "Optimal
strategies for a class of constrained sequential problems", Annals of Statistics 5, 1977, has it optimal for disjoint
single cures only; where repairs overlap, `improved` swaps and drops steps until neither helps.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from advisor.decision.problem import Bools, Problem, Stage
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
    left: Bools


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
class Move:
    """What one repair does: most hypotheses stay, some move.

    Attributes:
        stays: Share of each hypothesis that stays what it is, shape (H,).
        leaving: The hypotheses of which some share moves.
        arriving: The hypotheses to which something moves.
        share: Of each that leaves, the share that arrives at each, shape (leaving, arriving).
    """

    stays: Floats
    leaving: Ints
    arriving: Ints
    share: Floats

    @staticmethod
    def of(problem: Problem, repair: int) -> Move:
        """The moves of one repair."""
        repairs, own = problem.repairs, np.arange(len(problem.belief))
        success = repairs.success[repair]
        ways = ((repairs.after[repair], success), (repairs.otherwise[repair], 1.0 - success))
        moved = [(to != own) & (chance > 0.0) for to, chance in ways]
        leaving, arriving = (
            np.flatnonzero(moved[0] | moved[1]),
            np.unique(np.append(*(w[0][m] for w, m in zip(ways, moved, strict=True)))),
        )
        share, stays = np.zeros((len(leaving), len(arriving))), np.zeros(len(own))
        for (to, chance), moves in zip(ways, moved, strict=True):
            stays += np.where(moves, 0.0, chance)
            share[np.searchsorted(leaving, own[moves]), np.searchsorted(arriving, to[moves])] += chance[moves]
        return Move(stays, leaving, arriving, share)

    def apply(self, weights: Floats) -> Floats:
        """Weights after the repair and before its proof, shape (Q, H)."""
        result = weights * self.stays
        result[:, self.arriving] += weights[:, self.leaving] @ self.share
        return result


@dataclass(frozen=True, eq=False)
class Mover:
    """A problem's repairs, made ready to act on many cases at once."""

    problem: Problem
    moves: tuple[Move, ...]
    progress: Floats

    @staticmethod
    def of(problem: Problem) -> Mover:
        """Prepare the repairs of a problem."""
        repairs, own = problem.repairs, np.arange(len(problem.belief))
        ends = np.where(repairs.after != own, 1.0, problem.passes)
        failed = np.where(repairs.otherwise != own, 0.0, problem.passes)
        moves = tuple(Move.of(problem, repair) for repair in range(len(repairs.price)))
        return Mover(problem, moves, repairs.success * ends + (1.0 - repairs.success) * failed)

    def case(self, stage: Stage, weights: Floats) -> Columns:
        """One case, weights of shape (H,), as columns."""
        left = np.zeros((1, len(self.problem.repairs.price)), dtype=bool)
        left[0, self.problem.repairs_left(stage)] = True
        return Columns(weights[:, None], self.problem.access.closed(stage.opened)[None, :], left)

    def greedy(self, cases: Columns) -> Orders:
        """Take, again and again, the repair that most likely gets further for its price; hand over where cheapest."""
        problem = self.problem
        weights, closed, left = cases.weights.T.copy(), cases.closed, cases.left
        paid, mass = np.zeros(len(weights)), weights.sum(axis=1)
        best, stop = mass * problem.hand_over, np.zeros(len(mass), dtype=np.intp)
        steps: list[Ints] = []
        active = np.arange(len(mass))
        while active.size:
            pick, prices = self._pick(weights, closed, left)
            # What costs more already than the best way to stop will not come back under it.
            going = np.flatnonzero((pick != NO_STEP) & (paid < best[active]))
            going = going[np.argsort(pick[going], kind="stable")]
            active, pick = active[going], pick[going]
            weights, closed, left = weights[going], closed[going], left[going]
            paid = paid[going] + prices[going] * mass[going]
            left[np.arange(len(pick)), pick] = False
            closed *= 1.0 - self._inside[pick]
            undetected, mass = self._prove(weights, pick)
            paid += undetected
            steps.append(np.full(len(best), NO_STEP))
            steps[-1][active] = pick
            total = paid + mass * problem.hand_over
            better = total < best[active]
            best[active[better]], stop[active[better]] = total[better], len(steps)
        table = np.array(steps, dtype=np.intp).reshape(len(steps), len(best)).T
        return Orders(best, np.where(np.arange(len(steps)) < stop[:, None], table, NO_STEP))

    def _pick(self, weights: Floats, closed: Floats, left: Bools) -> tuple[Ints, Floats]:
        """The repair most likely to get further for its price, -1 where none does, and that price; shape (Q,)."""
        if not left.shape[1]:
            return np.full(len(weights), NO_STEP), np.zeros(len(weights))
        prices = (closed * self.problem.access.price) @ self._inside.T + self.problem.repairs.price
        rank = weights @ self.progress.T
        rank /= np.maximum(prices, _FREE)
        rank[~left] = -1.0
        pick = rank.argmax(axis=1)
        own = np.arange(len(pick))
        return np.where(rank[own, pick] > 0.0, pick, NO_STEP), prices[own, pick]

    def _prove(self, weights: Floats, pick: Ints) -> tuple[Floats, Floats]:
        """Do the repair of each row, sorted by it, and prove it; leaves what is not proved in the rows.

        Returns:
            What undetected failures cost, and the weight that is left, shape (Q,) each.
        """
        done = weights * self.stays[pick]
        for repair, rows in _runs(pick):
            move = self.moves[repair]
            done[rows, move.arriving] += weights[rows, move.leaving] @ move.share
        np.multiply(done, self.problem.still, out=weights)
        undetected, left = self._proof @ done.T
        return undetected, left

    @cached_property
    def _proof(self) -> Floats:
        """What passing unnoticed costs, and the chance not to pass, shape (2, H)."""
        return np.stack([self.problem.ended, self.problem.still])

    @cached_property
    def _inside(self) -> Floats:
        """1 where the place of a repair is inside another, shape (R, P)."""
        return self.problem.access.inside[self.problem.repairs.place]

    @cached_property
    def stays(self) -> Floats:
        """Share of each hypothesis that stays what it is under each repair, shape (R, H)."""
        return np.array([move.stays for move in self.moves])


def _runs(values: Ints) -> Iterator[tuple[int, slice]]:
    """Each of some sorted values and where it stands."""
    starts = np.flatnonzero(np.diff(values, prepend=NO_STEP - 1))
    for start, end in pairwise([*starts.tolist(), len(values)]):
        yield int(values[start]), slice(start, end)


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
