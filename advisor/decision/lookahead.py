"""Worth two steps ahead: tests and repairs first, tests and repairs second, then repairs without tests.

V_d = min{V_0, price + sum over outcomes of V_{d-1}}, where a repair goes on only if it was not proved; V_0 is the
cost of repairing without tests, capped by handing over.  The second step of all likely first steps is valued by a
stock of repair orders, which never makes a step look better than it is; the winner is valued again in full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from advisor.decision.orders import NO_STEP, Columns, Mover, Orders
from advisor.decision.outlook import Outlook, Step
from advisor.decision.policies import Policies
from advisor.decision.problem import Problem, Stage
from advisor.network.tables import Groups
from advisor.network.worlds import Floats, Ints

HAND_OVER = Step("hand_over", 0)
NEGLIGIBLE = 1e-6
"""Hypotheses below this share of a belief go to a residual that only handing over ends, where first steps are compared."""


@dataclass(frozen=True)
class Choice:
    """A first step and the expected cost of the case with it [money x total weight]."""

    step: Step
    cost: float


@dataclass(frozen=True)
class Ahead:
    """What looking ahead found: the cheapest first step, and all steps by the cost of one step and of two."""

    best: Choice
    now: float
    one: tuple[Choice, ...]
    two: tuple[Choice, ...]


def look_ahead(outlook: Outlook, stage: Stage, weights: Floats, *, tests: int = 12, repairs: int = 4) -> Ahead:
    """Find the cheapest first step, two steps ahead.

    Args:
        outlook: Of the problem.
        stage: What is open and done.
        weights: Over the hypotheses, shape (H,).
        tests: How many tests, the best by one step, are looked behind.
        repairs: The same for repairs.
    """
    first = _First(outlook, stage, weights)
    now = first.now
    start = Choice(_first_step(now), float(now.cost[0]))
    one = sorted(first.choices(), key=lambda choice: (choice.cost, choice.step))
    likely = [c.step for c in one if c.step.kind == "test"][:tests] + [c.step for c in one if c.step.kind == "repair"][:repairs]
    second = _Second(outlook, first.stock())
    two = sorted((Choice(s, second.cost(s, stage, weights)) for s in likely), key=lambda c: (c.cost, c.step))
    best = start
    if two and two[0].cost < start.cost:
        exact = Choice(two[0].step, two_steps(outlook, two[0].step, stage, weights))
        two[0] = exact
        best = min(start, exact, key=lambda choice: choice.cost)
    return Ahead(best, start.cost, tuple(one), tuple(two))


def two_steps(outlook: Outlook, step: Step, stage: Stage, weights: Floats) -> float:
    """Expected cost with a given first step, then the best second step, valued in full [money x total weight]."""
    cost, joint, then = _paid(outlook, step, stage, weights), *outlook.after(step, weights, stage)
    for after in joint.T:
        seen = _First(outlook, then, after)
        cost += min([float(seen.now.cost[0]), *(choice.cost for choice in seen.choices())])
    return cost


def _first_step(now: Orders) -> Step:
    first = int(now.first()[0])
    return HAND_OVER if first == NO_STEP else Step("repair", first)


def _paid(outlook: Outlook, step: Step, stage: Stage, weights: Floats) -> float:
    """Price of a step, undetected failures included [money x total weight]."""
    problem, total = outlook.problem, float(weights.sum())
    if step.kind == "test":
        return total * float(problem.test_prices(stage.opened)[step.index])
    price = total * float(problem.repair_prices(stage.opened)[step.index])
    return price + float(problem.ended @ problem.repaired(weights, step.index))


class _First:
    """All first steps from a belief, each followed by repairs without tests."""

    def __init__(self, outlook: Outlook, stage: Stage, weights: Floats) -> None:
        self.outlook, self.stage, self.weights = outlook, stage, weights
        problem = outlook.problem
        self.tests, self.repairs = problem.tests_left(stage), problem.repairs_left(stage)
        self.masses = outlook.cures.masses(weights[:, None])
        self.now = outlook.mover.greedy(outlook.mover.case(stage, self.masses[:, 0]))
        self.orders = outlook.mover.greedy(self._columns())

    def _columns(self) -> Columns:
        """Outcomes of all tests, then each repair not proved."""
        outlook, problem = self.outlook, self.outlook.problem
        tested = _side_by_side(problem, self.tests)
        joint = outlook.cures.groups.sums(problem.tests.likelihood, self.weights)[:, tested]
        unproved = [outlook.mover.repaired(self.masses, r) * outlook.cures.problem.still[:, None] for r in self.repairs]
        stages = [problem.after_test(self.stage, t) for t in self.tests]
        counts = [problem.tests.outcomes[t] for t in self.tests]
        stages += [problem.after_repair(self.stage, r) for r in self.repairs]
        counts += [1] * len(self.repairs)
        closed = np.array([problem.access.closed(s.opened) for s in stages]).reshape(len(stages), -1)
        left = np.ones((len(stages), len(problem.repairs.price)), dtype=bool)
        for row, then in zip(left, stages, strict=True):
            row[list(then.repairs)] = False
        return Columns(np.hstack([joint, *unproved]), np.repeat(closed, counts, 0), np.repeat(left, counts, 0))

    def choices(self) -> list[Choice]:
        """Each step with its cost."""
        steps = [*(Step("test", t) for t in self.tests), *(Step("repair", r) for r in self.repairs)]
        counts = [*(self.outlook.problem.tests.outcomes[t] for t in self.tests), *([1] * len(self.repairs))]
        parts = np.split(self.orders.cost, np.cumsum(counts)[:-1]) if counts else []
        paid = [_paid(self.outlook, step, self.stage, self.weights) for step in steps]
        return [Choice(s, p + float(part.sum())) for s, p, part in zip(steps, paid, parts, strict=True)]

    def stock(self) -> Policies:
        """The orders found for all outcomes of all first steps."""
        width = max(self.orders.steps.shape[1], self.now.steps.shape[1])
        rows = [np.pad(o.steps, ((0, 0), (0, width - o.steps.shape[1])), constant_values=NO_STEP)
                for o in (self.now, self.orders)]
        return Policies.of(self.outlook.cures.problem, np.vstack(rows))


def _side_by_side(problem: Problem, tests: Sequence[int]) -> Ints:
    """Columns of some tests."""
    columns = problem.tests.columns
    return np.concatenate([np.arange(columns[t].start, columns[t].stop) for t in tests] or [np.zeros(0, dtype=np.intp)])


class _Second:
    """The best second step behind a first one, valued by a stock of orders."""

    def __init__(self, outlook: Outlook, stock: Policies) -> None:
        self.outlook, self.stock = outlook, stock
        self.kept: dict[tuple[frozenset[int], frozenset[int]], Floats] = {}

    def cost(self, step: Step, stage: Stage, weights: Floats) -> float:
        """Expected cost with a first step [money x total weight]."""
        joint, then = self.outlook.after(step, weights, stage)
        return _paid(self.outlook, step, stage, weights) + float(self._best(then, joint).sum())

    def _alphas(self, stage: Stage) -> Floats:
        """Cost of every order that can still be done, from each class on."""
        key = stage.opened, stage.repairs
        if key not in self.kept:
            undone = ~np.isin(self.stock.steps, list(stage.repairs)).any(axis=1)
            self.kept[key] = self.stock.costs(stage.opened)[undone]
        return self.kept[key]

    def _best(self, stage: Stage, weights: Floats) -> Floats:
        """The least of no more tests, each test and each repair, for n beliefs, shape (n,)."""
        heavy = np.where(weights > NEGLIGIBLE * weights.sum(axis=0), weights, 0.0)
        residual = (weights - heavy) * self.outlook.problem.hand_over
        masses = self.outlook.cures.masses(heavy)
        least = (self._alphas(stage) @ masses).min(axis=0)
        least = np.minimum(least, self._repairs(stage, masses))
        return np.minimum(least + residual.sum(axis=0), self._tests(stage, heavy, residual))

    def _repairs(self, stage: Stage, masses: Floats) -> Floats:
        problem, mover = self.outlook.problem, self.outlook.mover
        prices, small = problem.repair_prices(stage.opened), self.outlook.cures.problem
        best = np.full(masses.shape[1], np.inf)
        for repair in problem.repairs_left(stage):
            done = mover.repaired(masses, repair)
            after = (self._alphas(problem.after_repair(stage, repair)) @ (done * small.still[:, None])).min(axis=0)
            np.minimum(best, prices[repair] * masses.sum(axis=0) + small.ended @ done + after, out=best)
        return best

    def _tests(self, stage: Stage, heavy: Floats, residual: Floats) -> Floats:
        problem, tests = self.outlook.problem, self.outlook.problem.tests
        prices = problem.test_prices(stage.opened)
        likelihood = tests.likelihood
        best = np.full(heavy.shape[1], np.inf)
        groups = [(place, list(ts)) for place, ts in groupby(
            sorted(problem.tests_left(stage), key=lambda t: int(tests.place[t])), key=lambda t: int(tests.place[t]))]
        for i, child in enumerate(heavy.T):
            masses = self.outlook.cures.groups.sums(likelihood, child)
            for place, members in groups:
                alphas = self._alphas(problem.after_test(stage, members[0]))
                columns = _side_by_side(problem, members)
                after = (alphas @ masses[:, columns]).min(axis=0)
                starts = np.cumsum([0, *(tests.outcomes[t] for t in members)])[:-1]
                total = np.add.reduceat(after, starts) + prices[members] * child.sum()
                best[i] = min(best[i], float(total.min()))
        return best + residual.sum(axis=0)
