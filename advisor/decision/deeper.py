"""First steps looked at further than two ahead: followed to the end of the case, as far as a budget goes.

Behind a first step every later one is chosen two steps ahead, for the beliefs where most is at stake first, until the
budget is used up; from there on repairs without tests.  What that comes to is what a real plan costs, so that the
cheapest first step is no dearer than choosing two ahead all along: rollout, D. Bertsekas, J. Tsitsiklis, C. Wu,
"Rollout algorithms for combinatorial optimization", Journal of Heuristics 3, 1997 (from memory).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count

from advisor.decision.choosing import Choosing
from advisor.decision.lookahead import Ahead, Choice
from advisor.decision.outlook import HAND_OVER, Step
from advisor.decision.problem import Stage
from advisor.decision.search import lower_bound
from advisor.network.worlds import Floats

FOLLOWED = 3
"""How many first steps, the best two steps ahead, are followed."""


@dataclass(frozen=True)
class Deeper:
    """What following first steps found: the steps with their costs, and what no plan can cost less than [money]."""

    ahead: Ahead
    lower: float


def deepened(choosing: Choosing, stage: Stage, belief: Floats, ahead: Ahead, beliefs: int) -> Deeper:
    """Follow the best first steps.

    Args:
        choosing: Chooses the later steps.
        stage: What is open and done.
        belief: Summing to 1, shape (H,).
        ahead: What looking two steps ahead found.
        beliefs: How many beliefs may be looked at, in all; a fifth of them for the lower bound.
    """
    first, share = ahead.two[:FOLLOWED], beliefs // 5
    each = (beliefs - share) // max(len(first), 1)
    costs = [min(c.cost, followed(choosing, c.step, stage, belief, each)) for c in first]
    better = sorted((Choice(c.step, cost) for c, cost in zip(first, costs, strict=True)), key=lambda c: c.cost)
    best = min([ahead.best, *better], key=lambda choice: choice.cost)
    lower = lower_bound(choosing.outlook, stage, belief, share)
    return Deeper(replace(ahead, best=best, two=(*better, *ahead.two[FOLLOWED:])), lower)


def followed(choosing: Choosing, first: Step, stage: Stage, weights: Floats, beliefs: int) -> float:
    """Expected cost of a step and those chosen behind it, so many beliefs looked at [money x total weight]."""
    outlook, ties = choosing.outlook, count()

    def done(step: Step, stage: Stage, weights: Floats) -> Iterator[tuple[float, int, float, Stage, Floats]]:
        """What is left after each outcome, that where most could still be saved first."""
        joint, then = outlook.after(step, weights, stage)
        for outcome in joint.T:
            cost = float(outlook.repairing(then, outcome).cost[0])
            yield outlook.known.bound(then, outcome) - cost, next(ties), cost, then, outcome

    total, waiting = float(outlook.paid([first], stage, weights)[0]), list(done(first, stage, weights))
    heapq.heapify(waiting)
    for _ in range(beliefs):
        if not waiting or waiting[0][0] >= 0.0:
            break
        _, _, cost, then, outcome = heapq.heappop(waiting)
        share = float(outcome.sum())
        step = choosing.step(then, outcome / share)
        if step == HAND_OVER:
            total += min(cost, share * outlook.problem.hand_over)
            continue
        total += float(outlook.paid([step], then, outcome)[0])
        for rest in done(step, then, outcome):
            heapq.heappush(waiting, rest)
    return total + sum(cost for _, _, cost, _, _ in waiting)
