"""Vehicles that are led through a policy, all that share a history together.

What a policy does next depends only on what has been found, so vehicles with one history are one belief: five
thousand vehicles ask a policy for some hundred steps.  Every vehicle carries its own luck (one number for each test,
repair and proof), the same whatever policy leads it, so that policies are compared in pairs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from advisor.decision.orders import Mover
from advisor.decision.outlook import HAND_OVER, Step
from advisor.decision.plan import GiveUp, HandOver, Plan, RepairStep, TestStep, repair_step, repairs_in_turn
from advisor.decision.problem import Problem, Stage

FIELDS = ("cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over", "gave_up")


@dataclass(frozen=True, eq=False)
class Chooser:
    """A policy that names its next step from stage, belief and the share of all vehicles with this history."""

    choose: Callable[[Stage, np.ndarray, float], Step]


Policy = Plan | Chooser


@dataclass(frozen=True, eq=False)
class Drawn:
    """N vehicles of a problem: what is wrong, and the luck of whoever works on them.

    Attributes:
        fault: Hypothesis of each, shape (N,).
        test: Uniform number that picks the outcome of each test, shape (N, T).
        repair: The same for the success of each repair, shape (N, R).
        proof: The same for the complaint's test after each repair, shape (N, R).
    """

    fault: np.ndarray
    test: np.ndarray
    repair: np.ndarray
    proof: np.ndarray


def draw(problem: Problem, count: int, rng: np.random.Generator) -> Drawn:
    """Draw vehicles from the belief of a problem."""
    tests, repairs = len(problem.tests.price), len(problem.repairs.price)
    fault = rng.choice(len(problem.belief), count, p=problem.belief)
    return Drawn(fault, rng.random((count, tests)), rng.random((count, repairs)), rng.random((count, repairs)))


@dataclass(frozen=True, eq=False)
class Repaired:
    """What a repair did to some vehicles: whether it changed nothing, whether the complaint is gone, and the rest.

    Attributes:
        idle: Whether it changed nothing.
        passed: Whether the complaint's own test passes now.
        unnoticed: What ending so costs where the complaint is gone [money].
        fixed: Whether it counts as fixed where the complaint is gone.
    """

    idle: np.ndarray
    passed: np.ndarray
    unnoticed: np.ndarray
    fixed: np.ndarray


class World(Protocol):
    """Vehicles that can be tested and repaired, by their rows."""

    count: int

    def outcomes(self, rows: np.ndarray, test: int) -> np.ndarray:
        """Outcome of a test on each, counted from 0."""

    def repaired(self, rows: np.ndarray, repair: int) -> Repaired:
        """Do a repair on each."""


class Described:
    """Drawn vehicles that behave as the problem says."""

    def __init__(self, problem: Problem, drawn: Drawn) -> None:
        self.problem, self.drawn = problem, drawn
        self.fault, self.count = drawn.fault.copy(), len(drawn.fault)

    def outcomes(self, rows: np.ndarray, test: int) -> np.ndarray:
        """Outcomes by the chances of the problem."""
        chances = self.problem.tests.likelihood[self.fault[rows], self.problem.tests.columns[test]]
        return (self.drawn.test[rows, test][:, None] >= np.cumsum(chances, axis=1)[:, :-1]).sum(axis=1)

    def repaired(self, rows: np.ndarray, repair: int) -> Repaired:
        """Success and proof by the chances of the problem."""
        problem, repairs, before = self.problem, self.problem.repairs, self.fault[rows]
        done = self.drawn.repair[rows, repair] < repairs.success[repair, before]
        after = np.where(done, repairs.after[repair, before], repairs.otherwise[repair, before])
        self.fault[rows] = after
        passed = self.drawn.proof[rows, repair] < problem.passes[after]
        return Repaired(repairs.after[repair, before] == before, passed, problem.ending[after], problem.fixed[after])


@dataclass(frozen=True, eq=False)
class Came:
    """What N vehicles came to under one policy.

    Attributes:
        values: By the names of `FIELDS`, each of shape (N,).
        histories: Number of different histories with a step.
    """

    values: dict[str, np.ndarray]
    histories: int

    def mean(self, name: str) -> float:
        """Mean over the vehicles."""
        return float(self.values[name].mean())

    def error(self, name: str) -> float:
        """Standard error of the mean."""
        values = self.values[name]
        return float(values.std(ddof=1) / np.sqrt(len(values)))


def lead(problem: Problem, policy: Policy, world: World) -> Came:
    """Lead vehicles through a policy to their ends.

    Args:
        problem: What the policy believes in, and what work costs.
        policy: A plan, or what names the next step.
        world: The vehicles; repairs change them.
    """
    walk = _Walk(problem, world)
    walk.on(policy, problem.belief, problem.stage, np.arange(world.count))
    return Came(walk.values, walk.histories)


class _Walk:
    def __init__(self, problem: Problem, world: World) -> None:
        self.problem, self.world, self.mover = problem, world, Mover.of(problem)
        self.values = {name: np.zeros(world.count) for name in FIELDS}
        self.histories = 0

    def on(self, policy: Policy, weights: np.ndarray, stage: Stage, rows: np.ndarray) -> None:
        """Lead vehicles with one history, weights as in `Valuation`, to their ends."""
        if not len(rows):
            return
        if isinstance(policy, HandOver):
            self.values["cost"][rows] += self.problem.hand_over
            self.values["handed_over"][rows] = 1.0
        elif isinstance(policy, GiveUp):
            self.values["gave_up"][rows] = 1.0
            order = self.mover.greedy(self.mover.case(stage, weights)).of(0)
            self.on(repairs_in_turn(self.problem, order), weights, stage, rows)
        elif isinstance(policy, Chooser):
            share = float(weights.sum())
            self.on(self._as_plan(policy.choose(stage, weights / share, share), policy), weights, stage, rows)
        elif isinstance(policy, TestStep):
            self._test(policy, weights, stage, rows)
        elif isinstance(policy, RepairStep):
            self._repair(policy.repair, policy.not_fixed, weights, stage, rows)
        else:
            self._repair(self.problem.explain, policy.not_accepted, weights, stage, rows)

    def _as_plan(self, step: Step, then: Chooser) -> Plan:
        if step == HAND_OVER:
            return HandOver()
        if step.kind == "repair":
            return repair_step(self.problem, step.index, then)
        return TestStep(step.index, (then,) * self.problem.tests.outcomes[step.index])

    def _pay(self, rows: np.ndarray, stage: Stage, work: object, index: int, price: float) -> None:
        self.histories += 1
        access = self.problem.access
        reach = float(access.inside[work.place[index]] @ (access.closed(stage.opened) * access.minutes))
        self.values["cost"][rows] += price
        self.values["minutes"][rows] += float(work.minutes[index]) + reach

    def _test(self, step: TestStep, weights: np.ndarray, stage: Stage, rows: np.ndarray) -> None:
        problem, test = self.problem, step.test
        self._pay(rows, stage, problem.tests, test, float(problem.test_prices(stage.opened)[test]))
        self.values["tests"][rows] += 1.0
        shown, joint = self.world.outcomes(rows, test), problem.split(weights, test)
        for outcome, branch in enumerate(step.branches):
            self.on(branch, joint[:, outcome], problem.after_test(stage, test), rows[shown == outcome])

    def _repair(self, repair: int, then: Policy, weights: np.ndarray, stage: Stage, rows: np.ndarray) -> None:
        problem = self.problem
        self._pay(rows, stage, problem.repairs, repair, float(problem.repair_prices(stage.opened)[repair]))
        done = self.world.repaired(rows, repair)
        if repair != problem.explain:
            self.values["wrong_parts"][rows] += done.idle
        self.values["cost"][rows] += np.where(done.passed, done.unnoticed, 0.0)
        self.values["fixed"][rows] = done.passed & done.fixed
        still = problem.repaired(weights, repair) * problem.still
        self.on(then, still, problem.after_repair(stage, repair), rows[~done.passed])
