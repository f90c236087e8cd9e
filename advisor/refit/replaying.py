"""What orders would have cost to fix if the advice had gone by given priors: whole plans, one step ahead or two.

The plan for a complaint is made with some priors and followed by vehicles whose fault is known, so that two sets of
priors are compared on the very same vehicles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from advisor.decision.advice import Costs
from advisor.decision.complaint import Complaint, complaint_of
from advisor.decision.conditional import Limits, plan_for
from advisor.decision.orders import Mover
from advisor.decision.outlook import Step
from advisor.decision.plan import (
    ExplainStep,
    GiveUp,
    HandOver,
    Plan,
    RepairStep,
    TestStep,
    repair_step,
    repairs_in_turn,
)
from advisor.decision.problem import Problem, Stage
from advisor.decision.valued import Reported, one_step
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import Floats

LIMITS = {1: Limits(share=0.01), 2: Limits(share=0.03, steps=8)}
"""Where plans end without a word, repairs by probability over cost following, by how many steps are looked ahead."""


@dataclass(frozen=True, eq=False)
class Replayed:
    """What vehicles in each hypothesis come to: cost [money] and number of tests, shape (H,) each."""

    cost: Floats
    tests: Floats


def replayed(model: Model, symptom: str, vehicle: Vehicle, costs: Costs, depth: int) -> Replayed:
    """Plan one step ahead or two with the model's own priors, and value the plan for every hypothesis."""
    complaint, limits = complaint_of(model, symptom, vehicle, costs), LIMITS[depth]
    return valued(complaint.problem, plan_for(complaint, limits) if depth > 1 else near(complaint, limits))


def near(complaint: Complaint, limits: Limits) -> Plan:
    """Plan one step ahead, as advice of depth 1 goes on."""
    problem = complaint.problem
    return _Planner(complaint, limits.share).onward(problem.stage, problem.belief, limits.steps)


@dataclass(frozen=True, eq=False)
class _Planner:
    complaint: Complaint
    least: float

    @cached_property
    def _places(self) -> Sequence[str]:
        return list(self.complaint.bench.model.schematic.places)

    def onward(self, stage: Stage, weights: Floats, left: int) -> Plan:
        """Plan for some weights from a stage on, with so many steps left."""
        share, problem = float(weights.sum()), self.complaint.problem
        if share < self.least or not left:
            return GiveUp()
        step = self._step(stage, weights / share)
        if step.kind == "hand_over":
            return HandOver()
        if step.kind == "repair" and step.index in stage.repairs:
            return GiveUp()
        if step.kind == "repair":
            still = problem.repaired(weights, step.index) * problem.still
            after = self.onward(problem.after_repair(stage, step.index), still, left - 1)
            return repair_step(problem, step.index, after)
        then, joint = problem.after_test(stage, step.index), problem.split(weights, step.index)
        return TestStep(step.index, tuple(self.onward(then, outcome, left - 1) for outcome in joint.T))

    def _step(self, stage: Stage, belief: Floats) -> Step:
        bench = replace(self.complaint.bench, opened=frozenset(self._places[place] for place in stage.opened))
        problem = self.complaint.problem
        reported = Reported(problem.passes, problem.looks, bool(stage.tests & problem.looks))
        return one_step(bench, belief, problem.tests_left(stage), reported).best


def valued(problem: Problem, plan: Plan) -> Replayed:
    """What a plan comes to in each hypothesis; weighted by the belief it is `plan.value_of`."""
    rows = _Backward(problem, Mover.of(problem)).of(plan, problem.belief, problem.stage)
    return Replayed(rows[0], rows[1])


@dataclass(frozen=True, eq=False)
class _Backward:
    """Expected cost and tests from a step of a plan on, for each hypothesis that a vehicle may be in there."""

    problem: Problem
    mover: Mover

    def of(self, plan: Plan, weights: Floats, stage: Stage) -> Floats:
        """Rows of shape (2, H); `weights` are what the plan believes there, for where it ends without a word."""
        if isinstance(plan, TestStep):
            return self._test(plan, weights, stage)
        if isinstance(plan, RepairStep):
            return self._repair(plan.repair, plan.not_fixed, weights, stage)
        if isinstance(plan, ExplainStep):
            assert self.problem.explain is not None  # whoever made the plan had something to explain
            return self._repair(self.problem.explain, plan.not_accepted, weights, stage)
        if isinstance(plan, HandOver):
            return self._paid(self.problem.hand_over, 0.0)
        order = self.mover.greedy(self.mover.case(stage, weights)).of(0)
        return self.of(repairs_in_turn(self.problem, order), weights, stage)

    def _paid(self, price: float, tests: float) -> Floats:
        return np.repeat([[price], [tests]], len(self.problem.belief), axis=1)

    def _test(self, step: TestStep, weights: Floats, stage: Stage) -> Floats:
        problem, then = self.problem, self.problem.after_test(stage, step.test)
        rows: Floats = self._paid(float(problem.test_prices(stage.opened)[step.test]), 1.0)
        chances = problem.tests.likelihood[:, problem.tests.columns[step.test]]
        for branch, chance in zip(step.branches, chances.T, strict=True):
            rows = rows + chance * self.of(branch, weights * chance, then)
        return rows

    def _repair(self, repair: int, otherwise: Plan, weights: Floats, stage: Stage) -> Floats:
        problem, repairs = self.problem, self.problem.repairs
        done, then = problem.repaired(weights, repair) * problem.still, problem.after_repair(stage, repair)
        left = self.of(otherwise, done, then) * problem.still
        left[0] += problem.ended
        success = repairs.success[repair]
        after: Floats = success * left[:, repairs.after[repair]] + (1.0 - success) * left[:, repairs.otherwise[repair]]
        after += self._paid(float(problem.repair_prices(stage.opened)[repair]), 0.0)
        return after
