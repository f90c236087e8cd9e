"""The whole plan for a complaint: every step chosen two steps ahead, as far as it is likely to be needed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.decision.choosing import LIKELY, Choosing
from advisor.decision.complaint import Complaint
from advisor.decision.outlook import HAND_OVER, Step
from advisor.decision.plan import GiveUp, HandOver, Plan, RepairStep, TestStep, Valuation, repair_step
from advisor.decision.problem import Stage
from advisor.network.worlds import Floats

WORTH_A_LINE = 0.008
"""A test that saves less than this share of what the complaint costs without tests, for who comes to it, is left out of
a plan: judgement."""


@dataclass(frozen=True)
class Limits:
    """Where a plan ends without a word: a smaller share of all vehicles, or more steps on the way."""

    share: float = 0.01
    steps: int = 12


@dataclass(frozen=True)
class _Costed:
    """A plan and what it comes to [money x weight]."""

    plan: Plan
    cost: float


def plan_for(complaint: Complaint, limits: Limits = Limits()) -> Plan:
    """Plan for a complaint; branches beyond the limits give up, where advice on what was found is to be asked for."""
    problem = complaint.problem
    return _Planner(complaint, limits).onward(problem.stage, problem.belief, limits.steps).plan


@dataclass(frozen=True, eq=False)
class _Planner:
    complaint: Complaint
    limits: Limits

    @cached_property
    def choosing(self) -> Choosing:
        """Chooses as advice does."""
        return Choosing(self.complaint.bench, self.complaint.outlook)

    @cached_property
    def valuation(self) -> Valuation:
        """Of what would follow if a test were left out."""
        return Valuation(self.complaint.problem)

    @cached_property
    def line(self) -> float:
        """What a test has to save for whoever comes to it [money]."""
        problem = self.complaint.problem
        return WORTH_A_LINE * self._without_tests(problem.stage, problem.belief)

    def onward(self, stage: Stage, weights: Floats, left: int) -> _Costed:
        """Plan for some weights from a stage on, with so many steps left."""
        complaint, share = self.complaint, float(weights.sum())
        if share < self.limits.share or not left:
            return _Costed(GiveUp(), self._without_tests(stage, weights))
        step = self.choosing.step(stage, weights / share)
        if step == HAND_OVER:
            return _Costed(HandOver(), share * complaint.problem.hand_over)
        joint, then = complaint.outlook.after(step, weights, stage)
        each = [self.onward(then, outcome, left - 1) for outcome in joint.T]
        cost = float(complaint.outlook.paid([step], stage, weights)[0]) + sum(one.cost for one in each)
        branches = tuple(one.plan for one in each)
        if step.kind == "repair":
            return _Costed(repair_step(complaint.problem, step.index, *branches), cost)
        usual = branches[int(joint.sum(axis=0).argmax())]
        simpler = self._simpler(usual, stage, weights, left)
        worth = cost + self.line * share < simpler.cost
        return _Costed(TestStep(step.index, branches), cost) if worth else simpler

    def _without_tests(self, stage: Stage, weights: Floats) -> float:
        return float(self.complaint.outlook.repairing(stage, weights).cost[0])

    def _simpler(self, usual: Plan, stage: Stage, weights: Floats, left: int) -> _Costed:
        """What a test can be replaced by: what mostly follows it, or repairs without tests."""
        spared = float(self.valuation.walk(usual, weights, stage)[0]) if self._proved(usual, weights, stage) else np.inf
        without = _Costed(usual, spared)
        order = self.complaint.outlook.repairing(stage, weights).of(0)
        early = bool(order) and self.choosing.too_early(order[0], stage, weights / weights.sum())
        repairs = _Costed(
            self._repairs(order, stage, weights, left), np.inf if early else self._without_tests(stage, weights)
        )
        return min(repairs, without, key=lambda one: one.cost)

    def _repairs(self, order: Sequence[int], stage: Stage, weights: Floats, left: int) -> Plan:
        """Repairs without tests, written out as far as the limits go."""
        share, problem = float(weights.sum()), self.complaint.problem
        if not order:
            return HandOver()
        sound = float(weights @ problem.passes)  # something has been looked at where tests have ended
        if share < self.limits.share or not left or (order[0] == problem.explain and sound < LIKELY * share):
            return GiveUp()
        if self.choosing.too_early(order[0], stage, weights / share):
            return GiveUp()
        joint, then = self.complaint.outlook.after(Step("repair", order[0]), weights, stage)
        return repair_step(problem, order[0], self._repairs(order[1:], then, joint[:, 0], left - 1))

    def _proved(self, plan: Plan, weights: Floats, stage: Stage) -> bool:
        """Whether a plan that was made for other weights condemns no unit too early with these."""
        share = float(weights.sum())
        if share <= 0.0 or not isinstance(plan, TestStep | RepairStep):
            return True
        if isinstance(plan, RepairStep) and self.choosing.too_early(plan.repair, stage, weights / share):
            return False
        step = Step("test", plan.test) if isinstance(plan, TestStep) else Step("repair", plan.repair)
        branches = plan.branches if isinstance(plan, TestStep) else (plan.not_fixed,)
        joint, then = self.complaint.outlook.after(step, weights, stage)
        return all(self._proved(branch, own, then) for branch, own in zip(branches, joint.T, strict=True))
