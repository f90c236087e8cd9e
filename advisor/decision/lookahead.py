"""Worth two steps ahead: tests and repairs first, tests and repairs second, then repairs without tests.

V_d = min{V_0, price + sum over outcomes of V_{d-1}}, where a repair goes on only if it was not proved; V_0 is the
cost of repairing without tests, capped by handing over.  First steps are compared by a stock of repair orders, which
never makes one look better than it is; the winner is valued again with the best order behind each second step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.decision.narrowing import heaviest, narrowed
from advisor.decision.orders import NO_STEP, Orders
from advisor.decision.outlook import HAND_OVER, Outlook, Step
from advisor.decision.policies import Policies
from advisor.decision.problem import Stage
from advisor.network.worlds import Floats, Ints

SECOND = 4
"""How many second tests are valued again behind each outcome of a first step."""


_Ways = tuple[frozenset[int], frozenset[int]]
"""What is open and which repairs are done: all that the cost of an order depends on."""


@dataclass(frozen=True)
class Choice:
    """A first step and the expected cost of the case with it [money x total weight]."""

    step: Step
    cost: float


@dataclass(frozen=True)
class Ahead:
    """What looking ahead found.

    Attributes:
        best: The cheapest first step.
        now: Cost of repairing without tests [money x total weight].
        one: Every step by the cost one step ahead, cheapest first.
        two: Those looked behind by the cost two steps ahead, cheapest first.
    """

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
    now, near = outlook.repairing(stage, weights), narrowed(outlook, weights)
    heavy = weights[near.kept]
    repairing = near.outlook.repairing(stage, heavy)
    rest = float(now.cost[0] - repairing.cost[0])
    every = outlook.all_steps(stage)
    one, orders = _one_step(near.outlook, every, stage, heavy, rest)
    telling = [step for step in _kind(one, "test") if step.index not in outlook.problem.twins]
    likely = [*telling[:tests], *_kind(one, "repair")[:repairs]]
    second = _Second(near.outlook, _stock(near.outlook, stage, [repairing, orders]))
    costs = second.costs(likely, stage, heavy) + rest if likely else np.zeros(0)
    two = _sorted([Choice(step, float(cost)) for step, cost in zip(likely, costs, strict=True)])
    first = now.first()[0]
    best = Choice(HAND_OVER if first == NO_STEP else Step("repair", int(first)), float(now.cost[0]))
    if two and two[0].cost < best.cost:
        two[0] = Choice(two[0].step, second.in_full(two[0].step, stage, heavy) + rest)
        best = min(best, two[0], key=lambda choice: choice.cost)
    return Ahead(best, float(now.cost[0]), tuple(one), tuple(two))


def _kind(choices: Sequence[Choice], kind: str) -> list[Step]:
    return [choice.step for choice in choices if choice.step.kind == kind]


def _sorted(choices: Sequence[Choice]) -> list[Choice]:
    return sorted(choices, key=lambda choice: (choice.cost, choice.step))


def _one_step(
    outlook: Outlook, steps: Sequence[Step], stage: Stage, weights: Floats, rest: float
) -> tuple[list[Choice], Orders]:
    """Value steps, each followed by repairs without tests, `rest` added; the orders of these are given too."""
    orders, counts = outlook.orders_after(steps, stage, weights)
    starts = np.cumsum([0, *counts])[:-1]
    after = np.add.reduceat(orders.cost, starts) if steps else np.zeros(0)
    costs = outlook.paid(steps, stage, weights) + after + rest
    return _sorted([Choice(step, float(cost)) for step, cost in zip(steps, costs, strict=True)]), orders


def _stock(outlook: Outlook, stage: Stage, found: Sequence[Orders]) -> Policies:
    width = max(orders.steps.shape[1] for orders in found)
    rows = [np.pad(o.steps, ((0, 0), (0, width - o.steps.shape[1])), constant_values=NO_STEP) for o in found]
    return Policies.of(outlook.cures.problem, np.vstack(rows))


@dataclass(frozen=True, eq=False)
class _Child:
    """An outcome of a first step: what follows by the stock, and the likeliest second tests with their outcomes."""

    stage: Stage
    least: float
    tests: Ints
    paid: Floats
    outcomes: tuple[Floats, ...]


class _Second:
    """The best second step behind a first one."""

    def __init__(self, outlook: Outlook, stock: Policies) -> None:
        self.outlook, self.stock = outlook, stock
        self.kept: dict[_Ways, NDArray[np.float32]] = {}
        self.behind: dict[_Ways, list[NDArray[np.float32]]] = {}

    def costs(self, steps: Sequence[Step], stage: Stage, weights: Floats) -> Floats:
        """Expected cost with each first step [money x total weight]: all second tests by the stock, the best anew."""
        children: list[_Child] = []
        counts = []
        for step in steps:
            joint, then = self.outlook.after(step, weights, stage)
            children += [self._child(then, child) for child in joint.T]
            counts.append(joint.shape[1])
        after = self._anew(children)
        return self.outlook.paid(steps, stage, weights) + np.add.reduceat(after, np.cumsum([0, *counts])[:-1])

    def in_full(self, step: Step, stage: Stage, weights: Floats) -> float:
        """The same with the best order behind no second step, all repairs, and the likeliest tests."""
        outlook = self.outlook
        joint, then = outlook.after(step, weights, stage)
        repairs = [s for s in outlook.all_steps(then) if s.kind == "repair"]
        blocks, stages, paid, owner = [], [], [], []
        for number, child in enumerate(joint.T):
            second = [*(Step("test", int(test)) for test in self._child(then, child).tests), *repairs]
            after = outlook.blocks_after(second, then, child)
            blocks += [outlook.cures.mass(child)[:, None], *after[0]]
            stages += [then, *after[1]]
            paid += [0.0, *outlook.paid(second, then, child)]
            owner += [number] * (len(second) + 1)
        cost = np.add.reduceat(outlook.greedy(blocks, stages).cost, np.cumsum([0, *(b.shape[1] for b in blocks)])[:-1])
        least = np.full(joint.shape[1], np.inf)
        np.minimum.at(least, owner, cost + paid)
        return float(outlook.paid([step], stage, weights)[0] + least.sum())

    def _anew(self, children: Sequence[_Child]) -> Floats:
        """The least cost of each child, its likeliest second tests valued with the best order behind each outcome."""
        problem, stages, columns = self.outlook.problem, [], []
        for child in children:
            for test, outcomes in zip(child.tests, child.outcomes, strict=True):
                stages.append(problem.after_test(child.stage, int(test)))
                columns.append(outcomes)
        least = np.array([child.least for child in children])
        if columns:
            cost = self.outlook.greedy(columns, stages).cost
            each = np.add.reduceat(cost, np.cumsum([0, *(c.shape[1] for c in columns)])[:-1])
            owner = np.repeat(np.arange(len(children)), [len(child.tests) for child in children])
            np.minimum.at(least, owner, each + np.concatenate([child.paid for child in children]))
        return least

    def _child(self, stage: Stage, weights: Floats) -> _Child:
        outlook, ready = self.outlook, self.outlook.by_place
        heavy = np.zeros_like(weights)
        kept = heaviest(weights)
        heavy[kept] = weights[kept]
        each = self._alphas(stage) @ np.column_stack([outlook.cures.mass(weights), outlook.cures.mass(weights - heavy)])
        best = int(each[:, 0].argmin())
        # Single precision halves the time of the product.
        groups, masses = outlook.cures.groups.sums_of_some(ready.likelihood, heavy.astype(np.float32))
        paid = outlook.problem.test_prices(stage.opened) * float(weights.sum()) + float(each[best, 1])
        tests = paid + self._after_tests(stage, groups, masses)
        out = stage.tests | outlook.problem.twins
        tests[list(out)] = np.inf
        likely = np.argsort(tests, kind="stable")[: min(SECOND, len(tests) - len(out))]
        outcomes = tuple(self._all_classes(groups, masses[:, ready.where[test]]) for test in likely)
        return _Child(
            stage, min(float(each[best, 0]), float(tests.min(initial=np.inf))), likely, paid[likely], outcomes
        )

    def _all_classes(self, groups: Ints, masses: NDArray[np.float32]) -> Floats:
        every = np.zeros((len(self.outlook.cures.problem.belief), masses.shape[1]))
        every[groups] = masses
        return every

    def _after_tests(self, stage: Stage, groups: Ints, masses: NDArray[np.float32]) -> Floats:
        """Cost after each test and then no more, by the stock, from the weights of some classes, shape (T,)."""
        ready, after = self.outlook.by_place, np.zeros(len(self.outlook.problem.tests.price))
        for tests, columns, starts, alphas in zip(
            ready.tests, ready.columns, ready.starts, self._alphas_by_place(stage), strict=True
        ):
            after[tests] = np.add.reduceat((alphas[:, groups] @ masses[:, columns]).min(axis=0), starts)
        return after

    def _alphas_by_place(self, stage: Stage) -> list[NDArray[np.float32]]:
        """The same as `_alphas` once the tests of each place have been done."""
        key = stage.opened, stage.repairs
        if key not in self.behind:
            after = [self.outlook.problem.after_test(stage, int(tests[0])) for tests in self.outlook.by_place.tests]
            self.behind[key] = [self._alphas(then) for then in after]
        return self.behind[key]

    def _alphas(self, stage: Stage) -> NDArray[np.float32]:
        """Cost of every order that can still be done, from each class on, shape (A, G)."""
        key = stage.opened, stage.repairs
        if key not in self.kept:
            undone = ~np.isin(self.stock.steps, list(stage.repairs)).any(axis=1)
            self.kept[key] = self.stock.costs(stage.opened)[undone].astype(np.float32)
        return self.kept[key]
