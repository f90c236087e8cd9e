"""Every next step of a case with bounds on what follows each of its outcomes, all in one batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from advisor.decision.bounds import KnownFault
from advisor.decision.merging import Merged, cures_only
from advisor.decision.orders import Columns, Mover, Orders
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import Floats, Ints


@dataclass(frozen=True, order=True)
class Step:
    """A test or a repair by its index, or handing over."""

    kind: str
    index: int


HAND_OVER = Step("hand_over", 0)


@dataclass(frozen=True, eq=False)
class NextStep:
    """A step and what may follow.

    Attributes:
        step: The test or repair.
        price: What it costs, undetected failures included [money x total weight].
        chance: Weight of each outcome; a repair goes on in one only, not fixed; shape (O,).
        lower: What no plan can cost less than after each outcome [money x total weight], shape (O,).
        upper: What repairing without tests costs after each outcome [money x total weight], shape (O,).
    """

    step: Step
    price: float
    chance: Floats
    lower: Floats
    upper: Floats


@dataclass(frozen=True, eq=False)
class ByPlace:
    """Tests sorted by their place, since what a test opens moves the prices of what follows.

    Attributes:
        tests: Of each place with tests, their indices.
        columns: Of each such place, its columns in `likelihood`.
        starts: Of each such place, where each test's columns start within them.
        where: The columns of each test in `likelihood`.
        likelihood: P(outcome | hypothesis), in single precision, enough to compare steps by, shape (H, O).
    """

    tests: tuple[Ints, ...]
    columns: tuple[slice, ...]
    starts: tuple[Ints, ...]
    where: tuple[slice, ...]
    likelihood: NDArray[np.float32]

    @staticmethod
    def of(problem: Problem) -> ByPlace:
        """Sort the tests of a problem."""
        places, counts = problem.tests.place, np.array(problem.tests.outcomes, dtype=np.intp)
        tests = tuple(np.flatnonzero(places == place) for place in np.unique(places))
        ends = np.cumsum([0, *(int(counts[own].sum()) for own in tests)])
        columns = tuple(slice(int(a), int(b)) for a, b in pairwise(ends))
        starts = tuple(np.cumsum(counts[own]) - counts[own] for own in tests)
        first = np.zeros(len(counts), dtype=np.intp)
        for own, start, block in zip(tests, starts, columns, strict=True):
            first[own] = start + block.start
        where = tuple(slice(int(a), int(a + n)) for a, n in zip(first, counts, strict=True))
        order = [np.arange(problem.tests.likelihood.shape[1])[problem.tests.columns[t]] for own in tests for t in own]
        table = problem.tests.likelihood[:, np.concatenate(order)] if order else problem.tests.likelihood
        return ByPlace(tests, columns, starts, where, np.ascontiguousarray(table, dtype=np.float32))


@dataclass(frozen=True, eq=False)
class Outlook:
    """A problem, made ready for looking at next steps."""

    problem: Problem
    known: KnownFault
    cures: Merged
    mover: Mover

    @staticmethod
    def of(problem: Problem) -> Outlook:
        """Prepare a problem."""
        cures = cures_only(problem)
        return Outlook(problem, KnownFault(problem), cures, Mover.of(cures.problem))

    @cached_property
    def by_place(self) -> ByPlace:
        """The tests, those of one place side by side."""
        return ByPlace.of(self.problem)

    def stage_after(self, step: Step, stage: Stage) -> Stage:
        """The stage once a step is done."""
        after = self.problem.after_test if step.kind == "test" else self.problem.after_repair
        return after(stage, step.index)

    def after(self, step: Step, weights: Floats, stage: Stage) -> tuple[Floats, Stage]:
        """Weights with each outcome of a step, shape (H, outcomes), and the stage then."""
        then = self.stage_after(step, stage)
        if step.kind == "test":
            return self.problem.split(weights, step.index), then
        still = self.problem.repaired(weights, step.index) * self.problem.still
        return still[:, None], then

    def all_steps(self, stage: Stage) -> list[Step]:
        """Tests, then repairs, that have not been done."""
        tests = [Step("test", test) for test in self.problem.tests_left(stage)]
        return tests + [Step("repair", repair) for repair in self.problem.repairs_left(stage)]

    def paid(self, steps: Sequence[Step], stage: Stage, weights: Floats) -> Floats:
        """Price of each step, undetected failures included [money x total weight]."""
        total, problem = float(weights.sum()), self.problem
        tests, repairs = problem.test_prices(stage.opened), problem.repair_prices(stage.opened)
        masses, small = self.cures.mass(weights)[None, :], self.cures.problem
        prices = []
        for step in steps:
            if step.kind == "test":
                prices.append(total * float(tests[step.index]))
            else:
                unnoticed = float((self.mover.moves[step.index].apply(masses) @ small.ended)[0])
                prices.append(total * float(repairs[step.index]) + unnoticed)
        return np.array(prices)

    def repairing(self, stage: Stage, weights: Floats) -> Orders:
        """Repairing without tests, by probability over cost, one case."""
        return self.mover.greedy(self.mover.case(stage, self.cures.mass(weights)))

    def orders_after(self, steps: Sequence[Step], stage: Stage, weights: Floats) -> tuple[Orders, list[int]]:
        """Repairing without tests after each outcome of each step, side by side, and how many outcomes each has."""
        blocks, stages = self.blocks_after(steps, stage, weights)
        return self.greedy(blocks, stages), [block.shape[1] for block in blocks]

    def blocks_after(self, steps: Sequence[Step], stage: Stage, weights: Floats) -> tuple[list[Floats], list[Stage]]:
        """Weight of each class with each outcome of each test, then of each repair, and the stages, for `greedy`."""
        masses, still = self.cures.mass(weights)[None, :], self.cures.problem.still
        tests = [step.index for step in steps if step.kind == "test"]
        ends = np.cumsum([self.problem.tests.outcomes[test] for test in tests])
        tested = np.split(self.masses(tests, weights), ends[:-1], axis=1) if tests else []
        unproved = [(self.mover.moves[s.index].apply(masses) * still).T for s in steps if s.kind == "repair"]
        return [*tested, *unproved], [self.stage_after(step, stage) for step in steps]

    def greedy(self, masses: Sequence[Floats], stages: Sequence[Stage]) -> Orders:
        """Repairing without tests from blocks of class weights, shape (G, columns of the block), each at its stage."""
        problem, counts = self.problem, [block.shape[1] for block in masses]
        closed = np.ones((len(stages), len(problem.access.parent)))
        left = np.ones((len(stages), len(problem.repairs.price)), dtype=bool)
        for i, stage in enumerate(stages):
            closed[i, list(stage.opened)] = 0.0
            left[i, list(stage.repairs)] = False
        columns = np.hstack([np.zeros((len(self.cures.problem.belief), 0)), *masses])
        return self.mover.greedy(Columns(columns, np.repeat(closed, counts, 0), np.repeat(left, counts, 0)))

    def masses(self, tests: Sequence[int], weights: Floats) -> Floats:
        """Weight of each class together with each outcome of some tests, side by side."""
        columns = self.problem.tests.columns
        chosen = np.concatenate(
            [np.zeros(0, dtype=np.intp), *(np.arange(columns[t].start, columns[t].stop) for t in tests)]
        )
        table = self.problem.tests.likelihood
        # Most of a table is dearer to pick from than to sum whole, and picking by index alone turns its layout.
        if 2 * len(chosen) > table.shape[1]:
            return np.take(self.cures.groups.sums(table, weights), chosen, axis=1)
        return self.cures.groups.sums(np.take(table, chosen, axis=1), weights)

    def steps(self, stage: Stage, weights: Floats) -> list[NextStep]:
        """All tests, then repairs, that are left."""
        steps = self.all_steps(stage)
        if not steps:
            return []
        orders, counts = self.orders_after(steps, stage, weights)
        uppers = np.split(orders.cost, np.cumsum(counts)[:-1])
        after = [self.after(step, weights, stage) for step in steps]
        joints, stages = [joint for joint, _ in after], [then for _, then in after]
        prices, lowers = self.paid(steps, stage, weights), self._lowers(joints, stages)
        return [
            NextStep(step, float(price), joint.sum(axis=0), lower, upper)
            for step, price, joint, lower, upper in zip(steps, prices, joints, lowers, uppers, strict=True)
        ]

    def _lowers(self, joints: Sequence[Floats], stages: Sequence[Stage]) -> list[Floats]:
        """One step's backup of the perfect-information bound, for all outcomes of steps that lead to one stage."""
        groups: dict[tuple[frozenset[int], frozenset[int]], list[int]] = {}
        for i, stage in enumerate(stages):
            groups.setdefault((stage.opened, stage.repairs), []).append(i)
        result: list[Floats] = [np.zeros(0)] * len(joints)
        for members in groups.values():
            counts = [joints[i].shape[1] for i in members]
            columns, first = np.hstack([joints[i] for i in members]), stages[members[0]]
            tested = np.repeat([self._cheapest(stages[i]) for i in members], counts, axis=0).T
            lower = np.minimum(self._asking(columns, first, tested), self._repairing(columns, first))
            for i, part in zip(members, np.split(lower, np.cumsum(counts)[:-1]), strict=True):
                result[i] = part
        return result

    def _cheapest(self, stage: Stage) -> Floats:
        """Price of the cheapest test that is left at each place that has tests, infinite where none is."""
        prices = self.problem.test_prices(stage.opened)
        prices[list(stage.tests)] = np.inf
        return np.array([prices[own].min() for own in self.by_place.tests])

    def _asking(self, columns: Floats, stage: Stage, price: Floats) -> Floats:
        """The lowest of a test at each place, then knowing the fault with that place open; `price` (places, Q)."""
        best, mass = np.full(columns.shape[1], np.inf), columns.sum(axis=0)
        for own, each in zip(self.by_place.tests, price, strict=True):
            left = np.isfinite(each)
            known = self.known.cost(self.problem.after_test(stage, int(own[0])))
            best[left] = np.minimum(best[left], mass[left] * each[left] + known @ columns[:, left])
        return best

    def _repairing(self, columns: Floats, stage: Stage) -> Floats:
        """The lowest of handing over and each repair, then knowing the fault."""
        mass, left = columns.sum(axis=0), self.problem.repairs_left(stage)
        price = self.problem.repair_prices(stage.opened)[left]
        repair = price[:, None] * mass + self.known.rest(stage.repairs) @ columns
        lower: Floats = np.minimum(mass * self.problem.hand_over, repair.min(axis=0, initial=np.inf))
        return lower
