"""When to stop testing: what knowing the fault could save, and whether knowing more would change the next repair."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.decision.orders import Orders
from advisor.decision.outlook import Outlook
from advisor.decision.problem import Stage
from advisor.network.worlds import Floats

TOGETHER = 64
"""Joint outcomes of the tests by which a change of mind is judged, at most: judgement, for the time it takes."""


def together(outlook: Outlook, best: Sequence[int]) -> tuple[int, ...]:
    """As many of some tests, the best first, as have few joint outcomes."""
    outcomes = np.cumprod([float(outlook.problem.tests.outcomes[test]) for test in best])  # whole numbers overflow
    return tuple(best[: int((outcomes <= TOGETHER).sum())])


def worth_of_knowing(outlook: Outlook, stage: Stage, weights: Floats, repairing: Orders) -> float:
    """What knowing the fault would save against `repairing` without tests [money x total weight].

    No test can save more, so that testing is over once the cheapest test costs more.  R. Howard, "Information
    value theory", IEEE Transactions on Systems Science and Cybernetics 2, 1966.
    """
    return float(repairing.cost[0]) - outlook.known.bound(stage, weights)


def no_more_tests(outlook: Outlook, stage: Stage, knowing: float) -> bool:
    """Whether the cheapest test that is left costs more than knowing the fault would save [money]."""
    left = outlook.problem.tests_left(stage)
    return bool(outlook.problem.test_prices(stage.opened)[left].min(initial=np.inf) >= knowing)


def same_decision(outlook: Outlook, stage: Stage, weights: Floats, tests: Sequence[int], repairing: Orders) -> float:
    """Probability that the first of `repairing` without tests, or handing over, is the same after some tests.

    A. Chen, A. Choi, A. Darwiche, "An exact algorithm for computing the same-decision probability", IJCAI 2013.
    Takes time and room in proportion to the number of joint outcomes.
    """
    joint, likelihood = weights[:, None], outlook.problem.tests.likelihood
    for test in tests:
        table = likelihood[:, outlook.problem.tests.columns[test]]
        joint = (joint[:, :, None] * table[:, None, :]).reshape(len(weights), -1)
    masses = outlook.cures.masses(joint)
    same = outlook.greedy([masses], [stage]).first() == repairing.first()[0]
    return float(masses.sum(axis=0)[same].sum() / weights.sum())
