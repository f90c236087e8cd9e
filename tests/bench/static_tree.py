"""The best tree on a few tests, by exact dynamic programming over which of them have shown what.

Exact over orders of the tests and over when to stop; at a leaf repairs follow by probability over cost, without tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

import numpy as np

from advisor.decision.merging import cures_only
from advisor.decision.orders import Columns, Mover
from advisor.decision.plan import GiveUp, Plan, TestStep
from advisor.decision.problem import Problem, Stage

Shown = tuple[int, ...]
"""Outcome of each of the tests, -1 where it has not been done."""


def static_tree(problem: Problem, tests: Sequence[int], most: int = 6) -> Plan:
    """The tree of least expected cost on at most `most` of the tests, those of largest value by themselves kept."""
    if len(tests) > most:
        alone = {test: _Tree(problem, (test,)) for test in tests}
        tests = sorted(sorted(tests, key=lambda test: alone[test].cost_of_asking(0, alone[test].nothing))[:most])
    search = _Tree(problem, tests)
    return search.plan(search.nothing)


class _Tree:
    def __init__(self, problem: Problem, tests: Sequence[int]) -> None:
        self.problem, self.tests = problem, tuple(tests)
        self.nothing: Shown = (-1,) * len(self.tests)
        self.cures = cures_only(problem)
        self.mover = Mover.of(self.cures.problem)
        self.leaves: dict[Shown, float] = {}
        self.mass: dict[Shown, float] = {}
        self.best: dict[Shown, tuple[float, int]] = {}
        self._value_leaves()

    def stage(self, shown: Shown) -> Stage:
        """Where a case stands when some of the tests are done."""
        stage = self.problem.stage
        for test, outcome in zip(self.tests, shown, strict=True):
            stage = self.problem.after_test(stage, test) if outcome >= 0 else stage
        return stage

    def _value_leaves(self) -> None:
        """Cost of repairing without tests behind every set of outcomes [money x weight]."""
        counts = [self.problem.tests.outcomes[test] for test in self.tests]
        for size in range(len(self.tests) + 1):
            for chosen in combinations(range(len(self.tests)), size):
                self._value_group(chosen, [counts[i] for i in chosen])

    def _value_group(self, chosen: Sequence[int], counts: Sequence[int]) -> None:
        weights = self.problem.belief[:, None]
        for i in chosen:
            table = self.problem.tests.likelihood[:, self.problem.tests.columns[self.tests[i]]]
            weights = (weights[:, :, None] * table[:, None, :]).reshape(len(weights), -1)
        every = [self._shown(chosen, outcomes) for outcomes in product(*(range(count) for count in counts))]
        one = self.mover.case(self.stage(every[0]), self.cures.problem.belief)
        columns = self.cures.masses(weights)
        many = columns.shape[1]
        cases = Columns(columns, np.repeat(one.closed, many, axis=0), np.repeat(one.left, many, axis=0))
        self.leaves.update(zip(every, self.mover.greedy(cases).cost.tolist(), strict=True))
        self.mass.update(zip(every, columns.sum(axis=0).tolist(), strict=True))

    def _shown(self, chosen: Sequence[int], outcomes: Sequence[int]) -> Shown:
        found = dict(zip(chosen, outcomes, strict=True))
        return tuple(found.get(i, -1) for i in range(len(self.tests)))

    def cost_of_asking(self, test: int, shown: Shown) -> float:
        """Cost with one more test and then none [money x weight]."""
        return self._price(test, shown) + sum(self.leaves[then] for then in self._after(test, shown))

    def _price(self, test: int, shown: Shown) -> float:
        return self.mass[shown] * float(self.problem.test_prices(self.stage(shown).opened)[self.tests[test]])

    def _after(self, test: int, shown: Shown) -> list[Shown]:
        count = self.problem.tests.outcomes[self.tests[test]]
        return [(*shown[:test], outcome, *shown[test + 1 :]) for outcome in range(count)]

    def value(self, shown: Shown) -> float:
        """Least expected cost from some outcomes on [money x weight]; which test is noted, -1 for none."""
        if shown not in self.best:
            ways = [(self.leaves[shown], -1)]
            for test in [i for i, outcome in enumerate(shown) if outcome < 0]:
                after = sum(self.value(then) for then in self._after(test, shown))
                ways.append((self._price(test, shown) + after, test))
            self.best[shown] = min(ways)
        return self.best[shown][0]

    def plan(self, shown: Shown) -> Plan:
        """The tree from some outcomes on."""
        self.value(shown)
        test = self.best[shown][1]
        if test < 0:
            return GiveUp()
        return TestStep(self.tests[test], tuple(self.plan(then) for then in self._after(test, shown)))
