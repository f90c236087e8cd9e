"""Every next step of a case with bounds on what follows each of its outcomes, all in one batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from advisor.decision.bounds import KnownFault
from advisor.decision.merging import Merged, cures_only
from advisor.decision.orders import Columns, Mover
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import Floats


class Step(NamedTuple):
    """A test or a repair by its index."""

    kind: str
    index: int


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

    def after(self, step: Step, weights: Floats, stage: Stage) -> tuple[Floats, Stage]:
        """Weights with each outcome of a step, shape (H, outcomes), and the stage then."""
        if step.kind == "test":
            return self.problem.split(weights, step.index), self.problem.after_test(stage, step.index)
        still = self.problem.repaired(weights, step.index) * self.problem.still
        return still[:, None], self.problem.after_repair(stage, step.index)

    def without_tests(self, stage: Stage, weights: Floats) -> tuple[float, tuple[int, ...]]:
        """Cost of repairing without tests, by probability over cost, and the order."""
        orders = self.mover.greedy(self.mover.case(stage, self.cures.masses(weights[:, None])[:, 0]))
        return float(orders.cost[0]), orders.of(0)

    def steps(self, stage: Stage, weights: Floats) -> list[NextStep]:
        """All tests and repairs that are left."""
        problem, total = self.problem, float(weights.sum())
        test_prices, repair_prices = problem.test_prices(stage.opened), problem.repair_prices(stage.opened)
        steps = [Step("test", t) for t in problem.tests_left(stage)]
        steps += [Step("repair", r) for r in problem.repairs_left(stage)]
        if not steps:
            return []
        prices = [total * float(test_prices[s.index] if s.kind == "test" else repair_prices[s.index]) for s in steps]
        for i, step in enumerate(steps):
            if step.kind == "repair":
                prices[i] += float(problem.ended @ problem.repaired(weights, step.index))
        after = [self.after(step, weights, stage) for step in steps]
        joints, stages = [joint for joint, _ in after], [then for _, then in after]
        uppers = self._uppers(joints, stages)
        lowers = self._lowers(joints, stages)
        return [
            NextStep(step, price, joint.sum(axis=0), lower, upper)
            for step, price, joint, lower, upper in zip(steps, prices, joints, lowers, uppers, strict=True)
        ]

    def _uppers(self, joints: Sequence[Floats], stages: Sequence[Stage]) -> list[Floats]:
        problem, counts = self.problem, [joint.shape[1] for joint in joints]
        closed = np.array([problem.access.closed(stage.opened) for stage in stages])
        left = np.ones((len(stages), len(problem.repairs.price)), dtype=bool)
        for row, stage in zip(left, stages, strict=True):
            row[list(stage.repairs)] = False
        masses = self.cures.masses(np.hstack(joints))
        cost = self.mover.greedy(Columns(masses, np.repeat(closed, counts, axis=0), np.repeat(left, counts, axis=0))).cost
        return np.split(cost, np.cumsum(counts)[:-1])

    def _lowers(self, joints: Sequence[Floats], stages: Sequence[Stage]) -> list[Floats]:
        """One step's backup of the perfect-information bound, for all outcomes of steps that lead to one stage."""
        groups: dict[tuple[frozenset[int], frozenset[int]], list[int]] = {}
        for i, stage in enumerate(stages):
            groups.setdefault((stage.opened, stage.repairs), []).append(i)
        result: list[Floats] = [np.zeros(0)] * len(joints)
        for members in groups.values():
            columns = np.hstack([joints[i] for i in members])
            nexts = [self._test_price(stages[i]) for i in members]
            counts = [joints[i].shape[1] for i in members]
            lower = self._lower(columns, stages[members[0]], np.repeat(nexts, counts))
            for i, part in zip(members, np.split(lower, np.cumsum(counts)[:-1]), strict=True):
                result[i] = part
        return result

    def _test_price(self, stage: Stage) -> float:
        """Price of the cheapest test that is left."""
        left = self.problem.tests_left(stage)
        return float(self.problem.test_prices(stage.opened)[left].min(initial=np.inf))

    def _lower(self, columns: Floats, stage: Stage, test_price: Floats) -> Floats:
        """The lowest of handing over, the cheapest test and each repair, then knowing the fault."""
        mass, left = columns.sum(axis=0), self.problem.repairs_left(stage)
        best = mass * self.problem.hand_over
        test = mass * np.where(np.isfinite(test_price), test_price, 0.0) + self.known.cost(stage) @ columns
        best = np.where(np.isfinite(test_price), np.minimum(best, test), best)
        price = self.problem.repair_prices(stage.opened)[left]
        repair = price[:, None] * mass + self.known.rest(stage.repairs) @ columns
        lower: Floats = np.minimum(best, repair.min(axis=0, initial=np.inf))
        return lower
