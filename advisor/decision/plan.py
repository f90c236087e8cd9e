"""A conditional plan as a tree, and what it costs, exactly; also a plan from elsewhere, such as a printed chart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.decision.orders import Mover
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import Floats


@dataclass(frozen=True)
class HandOver:
    """Hand the vehicle over."""


@dataclass(frozen=True)
class GiveUp:
    """The plan ends without a word on what comes next: repairs by probability over cost, without tests."""


@dataclass(frozen=True)
class TestStep:
    """Do a test and go on by its outcome; one branch for each, in the order of the outcomes."""

    __test__ = False  # not a pytest class

    test: int
    branches: tuple[Plan, ...]


@dataclass(frozen=True)
class RepairStep:
    """Do a repair and prove it; fixed ends the case."""

    repair: int
    not_fixed: Plan


@dataclass(frozen=True)
class ExplainStep:
    """Explain that nothing is wrong; accepted ends the case."""

    not_accepted: Plan


Plan = HandOver | GiveUp | TestStep | RepairStep | ExplainStep


@dataclass(frozen=True)
class PlanValue:
    """What a plan is expected to come to, over all hypotheses.

    Attributes:
        cost: All prices, hand-over and undetected failures included [money].
        minutes: Work, access included, handing over left out [min].
        tests: Number of tests done.
        wrong_parts: Number of repairs done that changed nothing.
        fixed: Share of vehicles that end fixed.
        handed_over: Share handed over.
        gave_up: Share for which the plan had no more to say.
    """

    cost: float
    minutes: float
    tests: float
    wrong_parts: float
    fixed: float
    handed_over: float
    gave_up: float


def repairs_in_turn(problem: Problem, order: Sequence[int]) -> Plan:
    """The plan that does repairs in a given order, then hands over."""
    plan: Plan = HandOver()
    for repair in reversed(order):
        plan = repair_step(problem, repair, plan)
    return plan


def repair_step(problem: Problem, repair: int, otherwise: Plan) -> Plan:
    """The step of a repair, which may be explaining."""
    return ExplainStep(otherwise) if repair == problem.explain else RepairStep(repair, otherwise)


def value_of(problem: Problem, plan: Plan) -> PlanValue:
    """Value a plan by exact sums over hypotheses, outcomes and proofs.

    Raises:
        ValueError: A test or repair stands twice on one way, a test has not one branch for each outcome, or
            the problem has nothing to explain.
    """
    return PlanValue(*Valuation(problem).walk(plan, problem.belief, problem.stage).tolist())


@dataclass(frozen=True, eq=False)
class Valuation:
    """What plans come to, as sums in the order of the fields of `PlanValue`, not divided by any probability."""

    problem: Problem

    @cached_property
    def mover(self) -> Mover:
        """The repairs, made ready where a plan gives up."""
        return Mover.of(self.problem)

    def walk(self, plan: Plan, weights: Floats, stage: Stage) -> Floats:
        """Follow a plan with some weights from a stage on."""
        if isinstance(plan, TestStep):
            return self._test(plan, weights, stage)
        if isinstance(plan, RepairStep):
            return self._repair(plan.repair, plan.not_fixed, weights, stage)
        if isinstance(plan, ExplainStep):
            if self.problem.explain is None:
                raise ValueError("the plan explains, but the problem has nothing to explain")
            return self._repair(self.problem.explain, plan.not_accepted, weights, stage)
        share = float(weights.sum())
        if isinstance(plan, HandOver):
            return _total(cost=share * self.problem.hand_over, handed_over=share)
        order = self.mover.greedy(self.mover.case(stage, weights)).of(0)
        return _total(gave_up=share) + self.walk(repairs_in_turn(self.problem, order), weights, stage)

    def _reach(self, place: int, stage: Stage) -> float:
        """Minutes to open what is closed on the way to a place."""
        access = self.problem.access
        return float(access.inside[place] @ (access.closed(stage.opened) * access.minutes))

    def _test(self, step: TestStep, weights: Floats, stage: Stage) -> Floats:
        problem, test, share = self.problem, step.test, float(weights.sum())
        if test in stage.tests or len(step.branches) != problem.tests.outcomes[test]:
            raise ValueError(f"test {test} is done twice, or has not one branch for each outcome")
        minutes = float(problem.tests.minutes[test]) + self._reach(int(problem.tests.place[test]), stage)
        price = float(problem.test_prices(stage.opened)[test])
        total = _total(cost=share * price, minutes=share * minutes, tests=share)
        after = problem.after_test(stage, test)
        for branch, joint in zip(step.branches, problem.split(weights, test).T, strict=True):
            total += self.walk(branch, joint, after)
        return total

    def _repair(self, repair: int, otherwise: Plan, weights: Floats, stage: Stage) -> Floats:
        problem, share = self.problem, float(weights.sum())
        if repair in stage.repairs:
            raise ValueError(f"repair {repair} is done twice")
        minutes = float(problem.repairs.minutes[repair]) + self._reach(int(problem.repairs.place[repair]), stage)
        price = float(problem.repair_prices(stage.opened)[repair])
        done = problem.repaired(weights, repair)
        cost = share * price + float(problem.ended @ done)
        idle = problem.repairs.after[repair] == np.arange(len(weights))
        wrong = 0.0 if repair == problem.explain else float(weights[idle].sum())
        fixed = float((done * problem.passes)[problem.fixed].sum())
        total = _total(cost=cost, minutes=share * minutes, wrong_parts=wrong, fixed=fixed)
        return total + self.walk(otherwise, done * problem.still, problem.after_repair(stage, repair))


_FIELDS = tuple(PlanValue.__dataclass_fields__)


def _total(**parts: float) -> Floats:
    return np.array([parts.get(name, 0.0) for name in _FIELDS])
