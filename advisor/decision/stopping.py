"""When to stop testing: what knowing the fault could save, and whether knowing more would change the next repair."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.decision.bounds import KnownFault
from advisor.decision.orders import Columns, Mover, improved, order_cost
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import Floats


def cost_without_tests(problem: Problem, stage: Stage, weights: Floats) -> tuple[float, tuple[int, ...]]:
    """Cost of the best order found without testing, and the order [money x total weight]."""
    mover = Mover.of(problem)
    order = improved(problem, stage, weights, mover.greedy(mover.case(stage, weights)).of(0))
    return order_cost(problem, stage, weights, order), order


def worth_of_knowing(problem: Problem, stage: Stage, weights: Floats) -> float:
    """What knowing the fault would save against repairing without tests [money x total weight].

    No test can save more, so that testing is over once the cheapest test costs more.  R. Howard, "Information
    value theory", IEEE Transactions on Systems Science and Cybernetics 2, 1966.
    """
    return cost_without_tests(problem, stage, weights)[0] - KnownFault(problem).bound(stage, weights)


def no_more_tests(problem: Problem, stage: Stage, weights: Floats) -> bool:
    """Whether the cheapest test that is left costs more than knowing the fault would save."""
    left = problem.tests_left(stage)
    price = problem.test_prices(stage.opened)[left].min(initial=np.inf)
    return bool(price * weights.sum() >= worth_of_knowing(problem, stage, weights))


def same_decision(problem: Problem, stage: Stage, weights: Floats, tests: Sequence[int]) -> float:
    """Probability that the next repair, or handing over, stays what it is once some tests are all done.

    A. Chen, A. Choi, A. Darwiche, "An exact algorithm for computing the same-decision probability", IJCAI 2013.
    Takes time and room in proportion to the number of joint outcomes.
    """
    joint = weights[:, None]
    for test in tests:
        table = problem.tests.likelihood[:, problem.tests.columns[test]]
        joint = (joint[:, :, None] * table[:, None, :]).reshape(len(weights), -1)
    mover = Mover.of(problem)
    one = mover.case(stage, weights)
    many = joint.shape[1]
    cases = Columns(joint, np.repeat(one.closed, many, axis=0), np.repeat(one.left, many, axis=0))
    same = mover.greedy(cases).first() == mover.greedy(one).first()[0]
    return float(joint.sum(axis=0)[same].sum() / weights.sum())
