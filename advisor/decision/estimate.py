"""Whether a step is covered by what the customer authorised, and the range that is asked for where it is not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from advisor.decision.advice import Estimate
from advisor.decision.outlook import HAND_OVER, Outlook, Step
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import SPECIALS, Floats

CHEAP = 0.01
"""Share of the faults that the cheapest cure has to do for, so that no far-fetched one counts: judgement, no source."""
DEAR = 0.9
"""Share of cases that the high end of an estimate covers."""


@dataclass(frozen=True)
class Allowed:
    """What is left of what the customer authorised: money, working time [min]; None where that is not limited."""

    money: float | None = None
    minutes: float | None = None

    def covers(self, cost: float, minutes: float) -> bool:
        """Whether a step that costs and takes so much may be done without asking."""
        return (self.money is None or cost <= self.money) and (self.minutes is None or minutes <= self.minutes)


def estimate(outlook: Outlook, stage: Stage, weights: Floats, step: Step, expected: float) -> Estimate:
    """What getting the vehicle fixed comes to, beginning with a step.

    Args:
        outlook: Of the problem.
        stage: What is open and done.
        weights: Over the hypotheses, summing to 1, shape (H,).
        step: The step that is to come.
        expected: What the case is expected to cost with it [money].
    """
    if step == HAND_OVER:
        return Estimate(expected, expected, expected)
    ends = np.array(list(endings(outlook, stage, weights, step)))
    cure = _quantile(weights[SPECIALS:], outlook.known.cost(stage)[SPECIALS:], CHEAP)
    first = float(outlook.problem.test_prices(stage.opened)[step.index]) if step.kind == "test" else 0.0
    return Estimate(min(first + cure, expected), expected, max(_quantile(ends[:, 0], ends[:, 1], DEAR), expected))


def endings(outlook: Outlook, stage: Stage, weights: Floats, step: Step) -> Iterator[tuple[float, float]]:
    """Every way that a case can end if a step is followed by repairs without tests: its weight and its cost [money]."""
    problem = outlook.problem
    if step.kind == "repair":
        done = [int(r) for r in outlook.repairing(*_after_repair(outlook, stage, weights, step)).of(0)]
        yield from _in_turn(problem, stage, weights, [step.index, *done], 0.0)
        return
    joint, then = outlook.after(step, weights, stage)
    paid = float(problem.test_prices(stage.opened)[step.index])
    for outcome in joint.T:
        yield from _in_turn(problem, then, outcome, outlook.repairing(then, outcome).of(0), paid)


def _after_repair(outlook: Outlook, stage: Stage, weights: Floats, step: Step) -> tuple[Stage, Floats]:
    joint, then = outlook.after(step, weights, stage)
    return then, joint[:, 0]


def _in_turn(
    problem: Problem, stage: Stage, weights: Floats, order: list[int] | tuple[int, ...], paid: float
) -> Iterator[tuple[float, float]]:
    """The ends of repairs in turn, then of handing over."""
    for repair in order:
        paid += float(problem.repair_prices(stage.opened)[repair])
        done = problem.repaired(weights, repair)
        for ending in np.unique(problem.ending):
            yield float((done * problem.passes)[problem.ending == ending].sum()), paid + float(ending)
        weights, stage = done * problem.still, problem.after_repair(stage, repair)
    yield float(weights.sum()), paid + problem.hand_over


def _quantile(weights: Floats, values: Floats, share: float) -> float:
    """The least value that so large a share of the weight does not exceed; 0 without weight."""
    order = np.argsort(values, kind="stable")
    reached = np.cumsum(weights[order])
    if not len(reached) or reached[-1] <= 0.0:
        return 0.0
    return float(values[order][int(np.searchsorted(reached, share * reached[-1]))])
