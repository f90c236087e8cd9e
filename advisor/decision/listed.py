"""A plan as a list of numbered steps: equal plans behind different outcomes are one step."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from advisor.decision.plan import ExplainStep, GiveUp, HandOver, Plan, RepairStep, TestStep
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import Floats

FIXED, HANDED_OVER, GO_ON = "fixed", "hand_over", "go_on"
"""How a way through a plan ends; to go on is to ask for advice with what was found."""


@dataclass(frozen=True)
class Way:
    """Where one outcome of a step leads: to a later step, or to an end; with its share of all vehicles."""

    share: float
    step: int | None
    end: str | None


@dataclass(frozen=True)
class Listed:
    """A step with its number from 1, its share of all vehicles, and one way for each outcome.

    The outcomes of a repair are fixed and not fixed, those of explaining accepted and not accepted.
    """

    number: int
    plan: TestStep | RepairStep | ExplainStep
    share: float
    ways: tuple[Way, ...]


def listed(problem: Problem, plan: Plan) -> tuple[Listed, ...]:
    """Number the steps of a plan so that every way leads forward, to the likeliest next step first."""
    walk = _Walk(problem)
    walk.follow(plan, problem.belief, problem.stage)
    order = walk.order(plan)
    number = {step: i for i, step in enumerate(order, 1)}
    return tuple(
        Listed(
            number[step],
            step,
            float(walk.shares[step].sum()),
            tuple(
                _way(float(share), then, number) for share, then in zip(walk.shares[step], _thens(step), strict=True)
            ),
        )
        for step in order
    )


_Step = TestStep | RepairStep | ExplainStep


def _thens(step: _Step) -> tuple[Plan | None, ...]:
    """What follows each outcome; None is a case that has ended."""
    if isinstance(step, TestStep):
        return step.branches
    return None, step.not_fixed if isinstance(step, RepairStep) else step.not_accepted


def _way(share: float, then: Plan | None, number: dict[_Step, int]) -> Way:
    if then is None or isinstance(then, HandOver | GiveUp):
        return Way(share, None, FIXED if then is None else HANDED_OVER if isinstance(then, HandOver) else GO_ON)
    return Way(share, number[then], None)


@dataclass(frozen=True, eq=False)
class _Walk:
    problem: Problem
    shares: dict[_Step, Floats] = field(default_factory=dict)

    def follow(self, plan: Plan, weights: Floats, stage: Stage) -> None:
        """Add up the share of every outcome of every step."""
        if isinstance(plan, HandOver | GiveUp):
            return
        problem = self.problem
        if isinstance(plan, TestStep):
            joint, then = problem.split(weights, plan.test), problem.after_test(stage, plan.test)
        else:
            repair = plan.repair if isinstance(plan, RepairStep) else problem.explain
            if repair is None:
                raise ValueError("the plan explains, but the problem has nothing to explain")
            done, then = problem.repaired(weights, repair), problem.after_repair(stage, repair)
            joint = np.column_stack([done * problem.passes, done * problem.still])
        self.shares[plan] = self.shares.get(plan, 0.0) + joint.sum(axis=0)
        for branch, column in zip(_thens(plan), joint.T, strict=True):
            if branch is not None:
                self.follow(branch, column, then)

    def order(self, plan: Plan) -> list[_Step]:
        """All steps, each before those that it leads to."""
        done: dict[_Step, None] = {}
        self._visit(plan, done)
        return list(reversed(done))

    def _visit(self, step: Plan | None, done: dict[_Step, None]) -> None:
        if step is None or isinstance(step, HandOver | GiveUp) or step in done:
            return
        ways = zip(self.shares[step].tolist(), _thens(step), strict=True)
        for _, then in sorted(ways, key=lambda way: way[0]):
            self._visit(then, done)
        done[step] = None
