"""A lower bound that knows how little tests can tell: every test that is left for nothing, and all at once.

Somebody who is given the outcomes of all tests that are left, and pays for repairs only, spends no more than any plan.
He does not know the fault, as the usual bound of `advisor.decision.bounds` has it, so that causes that no test tells
apart are still repaired one after the other.  What a repair has changed is taken as known from then on.

The joint outcomes of all tests are written out, so that this serves problems of a few tests only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from advisor.decision.bounds import KnownFault
from advisor.decision.outlook import NextStep, Outlook
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import Floats, Ints


@dataclass(frozen=True, eq=False)
class SharpOutlook(Outlook):
    """A problem made ready, its next steps with the sharper of both bounds."""

    @staticmethod
    def of(problem: Problem) -> SharpOutlook:
        """Prepare a problem."""
        plain = Outlook.of(problem)
        return SharpOutlook(plain.problem, plain.known, plain.cures, plain.mover)

    @cached_property
    def told(self) -> Told:
        """The bound where all tests are for nothing."""
        return Told(self)

    def steps(self, stage: Stage, weights: Floats) -> list[NextStep]:
        """All steps that are left, with the sharper of both bounds after each outcome."""
        tests = self.problem.tests_left(stage)
        joint = self.told.joint(tests, weights)
        repaired = self.told.repaired(stage, joint)
        told: dict[frozenset[int], Floats] = {}
        result = []
        for step in super().steps(stage, weights):
            if step.step.kind == "test":
                opened = self.stage_after(step.step, stage).opened
                if opened not in told:
                    told[opened] = self.told.cost(Stage(opened, repairs=stage.repairs), joint)
                asked = tests.index(step.step.index)
                lower = told[opened].sum(axis=tuple(i for i in range(len(tests)) if i != asked))
            else:
                lower = np.array([repaired[step.step.index]])
            result.append(replace(step, lower=np.clip(lower, step.lower, np.maximum(step.lower, step.upper))))
        return result


@dataclass(frozen=True, eq=False)
class Told:
    """What repairs cost somebody who has been told the outcomes of all tests that are left.

    Over S sorts of hypotheses: those that every order of repairs treats alike, of which the same repairs leave the same
    share just as it was, and which therefore read as they did.
    """

    outlook: Outlook

    @cached_property
    def _sorted(self) -> tuple[Ints, Ints, Floats]:
        """The sort of each hypothesis, the class of each sort, and what each repair leaves unchanged, shape (R, S)."""
        repairs, own = self.outlook.problem.repairs, np.arange(len(self.outlook.problem.belief))
        same = repairs.success * (repairs.after == own) + (1.0 - repairs.success) * (repairs.otherwise == own)
        keys = np.vstack([self.outlook.cures.class_of, same])
        _, first, sort = np.unique(keys, axis=1, return_index=True, return_inverse=True)
        return sort.reshape(-1), self.outlook.cures.class_of[first], same[:, first]

    @cached_property
    def known(self) -> KnownFault:
        """The usual bound, over classes."""
        return KnownFault(self._small)

    @property
    def _small(self) -> Problem:
        """The problem of repairs alone, over classes."""
        return self.outlook.cures.problem

    def joint(self, tests: Sequence[int], weights: Floats) -> Floats:
        """Weight of each sort with all outcomes of some tests, shape (S, outcomes of each test)."""
        problem, shape = self.outlook.problem, [self.outlook.problem.tests.outcomes[t] for t in tests]
        columns = [problem.tests.likelihood[:, problem.tests.columns[t]] for t in tests]
        half = len(columns) // 2
        first, second = _together(columns[:half], len(weights)), _together(columns[half:], len(weights))
        sort, klass, _ = self._sorted
        members = [sort == number for number in range(len(klass))]
        return np.stack([((first[own] * weights[own, None]).T @ second[own]).reshape(shape) for own in members])

    def cost(self, stage: Stage, joint: Floats) -> Floats:
        """What repairs cost at least from a stage on [money x weight], shape (outcomes of each test)."""
        cost: Floats = self._costs(stage, joint)[frozenset()].reshape(joint.shape[1:])
        return cost

    def repaired(self, stage: Stage, joint: Floats) -> dict[int, float]:
        """What still comes at least after each repair that is left, not fixed [money x weight]."""
        costs, mass = self._costs(stage, joint), joint.reshape(len(joint), -1).sum(axis=1)
        return {
            repair: float(costs[frozenset({repair})].sum() + self._changed(stage, repair) @ mass)
            for repair in self._small.repairs_left(stage)
        }

    def _costs(self, stage: Stage, joint: Floats) -> dict[frozenset[int], Floats]:
        """What comes after each set of repairs for those whom none of them changed, shape (joint outcomes,)."""
        flat, left = joint.reshape(len(joint), -1), self._small.repairs_left(stage)
        subsets = [frozenset(left[i] for i in range(len(left)) if bits >> i & 1) for bits in range(1 << len(left))]
        result: dict[frozenset[int], Floats] = {}
        for done in sorted(subsets, key=len, reverse=True):
            share, then = self._unchanged(done), stage
            for repair in done:
                then = self._small.after_repair(then, repair)
            best, prices = self._small.hand_over * (share @ flat), self._small.repair_prices(then.opened)
            for repair in self._small.repairs_left(then):
                paid = share * (prices[repair] + self._ended(repair) + self._changed(then, repair))
                best = np.minimum(best, paid @ flat + result[done | {repair}])
            result[done] = best
        return result

    def _unchanged(self, done: frozenset[int]) -> Floats:
        """Share of each sort that some repairs left what it was, each seen not to help; shape (S,)."""
        _, klass, same = self._sorted
        share: Floats = same[sorted(done)].prod(axis=0) * self._small.still[klass] ** len(done)
        return share

    def _ended(self, repair: int) -> Floats:
        """Price of what passes unnoticed after a repair, of each sort [money], shape (S,)."""
        ended: Floats = (self._moved(repair) @ self._small.ended)[self._sorted[1]]
        return ended

    def _changed(self, stage: Stage, repair: int) -> Floats:
        """What those come to whom a repair has changed and not fixed, once they are known; shape (S,)."""
        everywhere = frozenset(range(len(self._small.access.parent)))
        known = self._small.still * self.known.cost(Stage(everywhere, repairs=stage.repairs | {repair}))
        _, klass, same = self._sorted
        changed: Floats = (self._moved(repair) @ known)[klass] - same[repair] * known[klass]
        return changed

    def _moved(self, repair: int) -> Floats:
        """Share of each class that a repair leaves in each class, shape (G, G)."""
        return self.outlook.mover.moves[repair].apply(np.eye(len(self._small.belief)))


def _together(columns: Sequence[Floats], count: int) -> Floats:
    """Probability of all outcomes of some tests together, shape (H, product of outcomes)."""
    whole = np.ones((count, 1))
    for block in columns:
        whole = (whole[:, :, None] * block[:, None, :]).reshape(count, -1)
    return whole
