"""A case to be decided, as inert arrays: what may be wrong, what can be asked, what can be done, what it costs.

Weights over hypotheses need not sum to 1: what is expected of a part of the vehicles is its share times its cost,
so that values of outcomes add up without dividing by their probabilities.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from advisor.network.worlds import TOLERANCE, Floats, Ints

Bools = NDArray[np.bool_]
NOWHERE = -1
"""The place of a step that needs nothing opened."""


@dataclass(frozen=True, eq=False)
class Access:
    """Places as a tree, P of them: whoever opens one has opened what holds it; closing is charged with opening.

    Attributes:
        parent: The place that holds each place, -1 where none does, shape (P,).
        price: Opening and closing of each place itself [money], shape (P,).
        minutes: The same [min], shape (P,).
    """

    parent: Ints
    price: Floats
    minutes: Floats

    def __post_init__(self) -> None:
        count = len(self.parent)
        if not len(self.price) == len(self.minutes) == count:
            raise ValueError("parent, price and minutes must have as many entries as places")
        if not ((self.parent >= NOWHERE) & (self.parent < count)).all():
            raise ValueError("a place lies in a place that does not exist")
        if not ((self.price >= 0.0).all() and (self.minutes >= 0.0).all()):
            raise ValueError("opening a place takes no negative price or time")
        if any(len(self._up(place)) > count for place in range(count)):
            raise ValueError("a place lies in itself")

    def _up(self, place: int) -> list[int]:
        steps: list[int] = []
        while place != NOWHERE and len(steps) <= len(self.parent):
            steps.append(place)
            place = int(self.parent[place])
        return steps

    @cached_property
    def inside(self) -> Floats:
        """1 where the second place has to be opened for the first, shape (P + 1, P); the last row is nowhere."""
        result = np.zeros((len(self.parent) + 1, len(self.parent)))
        for place in range(len(self.parent)):
            result[place, self._up(place)] = 1.0
        return result

    def path(self, place: int) -> frozenset[int]:
        """Every place that has to be open for one."""
        return frozenset(self._up(place))

    def closed(self, opened: Iterable[int]) -> Floats:
        """1 where a place is closed, shape (P,)."""
        result = np.ones(len(self.parent))
        result[list(opened)] = 0.0
        return result


@dataclass(frozen=True, eq=False)
class Tests:
    """What can be asked, T tests with O outcomes together.

    Attributes:
        likelihood: P(outcome | hypothesis), one test's columns side by side, shape (H, O).
        outcomes: Number of outcomes of each test.
        price: Of each test, access left out [money], shape (T,).
        minutes: The same [min], shape (T,).
        place: Where each is done, -1 where nothing has to be opened, shape (T,).
    """

    __test__ = False  # not a pytest class

    likelihood: Floats
    outcomes: tuple[int, ...]
    price: Floats
    minutes: Floats
    place: Ints

    def __post_init__(self) -> None:
        if not len(self.outcomes) == len(self.price) == len(self.minutes) == len(self.place):
            raise ValueError("outcomes, price, minutes and place must have as many entries as tests")
        if self.likelihood.shape[1] != sum(self.outcomes):
            raise ValueError("the likelihood must have a column for each outcome")
        if not ((self.price >= 0.0).all() and (self.minutes >= 0.0).all()):
            raise ValueError("a test takes no negative price or time")
        starts = [columns.start for columns in self.columns]
        sums = np.add.reduceat(self.likelihood, starts, axis=1) if starts else np.ones(0)
        # Written so that NaN fails it.
        if not ((self.likelihood >= 0.0).all() and (np.abs(sums - 1.0) <= TOLERANCE).all()):
            raise ValueError("the outcome probabilities of a test do not sum to 1")

    @cached_property
    def columns(self) -> tuple[slice, ...]:
        """The columns of `likelihood` that belong to each test."""
        return tuple(slice(int(a), int(b)) for a, b in pairwise(np.cumsum([0, *self.outcomes])))


@dataclass(frozen=True, eq=False)
class Repairs:
    """What can be done, R repairs; each ends with the complaint's own test, whose price is part of the repair's.

    Attributes:
        after: The hypothesis that is left when a repair of each hypothesis succeeds, itself where it repairs
            nothing, shape (R, H).
        success: Probability that it does, shape (R, H).
        otherwise: The hypothesis that is left when it does not: itself, or one with a bad new part, shape (R, H).
        price: Of each repair, parts and proof included, access left out [money], shape (R,).
        minutes: The same [min], shape (R,).
        place: Where each is done, -1 where nothing has to be opened, shape (R,).
    """

    after: Ints
    success: Floats
    otherwise: Ints
    price: Floats
    minutes: Floats
    place: Ints

    def __post_init__(self) -> None:
        if not self.after.shape == self.success.shape == self.otherwise.shape:
            raise ValueError("after, success and otherwise must have one shape")
        if not len(self.after) == len(self.price) == len(self.minutes) == len(self.place):
            raise ValueError("after, price, minutes and place must have as many entries as repairs")
        for target in (self.after, self.otherwise):
            if not ((target >= 0) & (target < self.after.shape[1])).all():
                raise ValueError("a repair leaves a hypothesis that does not exist")
        if not ((self.success >= 0.0) & (self.success <= 1.0)).all():
            raise ValueError("a probability of success is outside 0 to 1")
        if not ((self.price >= 0.0).all() and (self.minutes >= 0.0).all()):
            raise ValueError("a repair takes no negative price or time")


@dataclass(frozen=True)
class Stage:
    """How far a case has come, besides the belief: places opened, tests and repairs done."""

    opened: frozenset[int] = frozenset()
    tests: frozenset[int] = frozenset()
    repairs: frozenset[int] = frozenset()


@dataclass(frozen=True, eq=False)
class Problem:
    """A case: the belief, what can be asked and done, and what every way to end it costs.

    A case ends when the complaint's test passes after a repair, or is handed over.  Explaining that nothing is
    wrong is a repair that puts no part in: it leaves the hypothesis "explained", or whatever passes, behind.

    Attributes:
        belief: Probability of each hypothesis, shape (H,).
        passes: Probability that the complaint's test passes, shape (H,).
        ending: What it costs that a case ends unnoticed in each hypothesis, 0 where all is well [money], shape (H,).
        fixed: Where a case that ends is counted as fixed, shape (H,).
        tests: What can be asked, each test once.
        repairs: What can be done, each repair once.
        access: The places.
        hand_over: Price of handing over [money].
        stage: Places that stand open and what has been done.
        explain: Which of the repairs is explaining, None where none is.
        looks: Tests that look at the complaint itself.
        twins: Tests that read as others do, so that a look ahead leaves them out.
    """

    belief: Floats
    passes: Floats
    ending: Floats
    fixed: Bools
    tests: Tests
    repairs: Repairs
    access: Access
    hand_over: float
    stage: Stage = field(default_factory=Stage)
    explain: int | None = None
    looks: frozenset[int] = frozenset()
    twins: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        count = len(self.belief)
        if not len(self.passes) == len(self.ending) == len(self.fixed) == len(self.tests.likelihood) == count:
            raise ValueError("belief, passes, ending, fixed and likelihood must have as many entries as hypotheses")
        if self.repairs.after.shape[1] != count:
            raise ValueError("the repairs must have as many columns as hypotheses")
        if not ((self.belief >= 0.0).all() and abs(self.belief.sum() - 1.0) <= TOLERANCE):
            raise ValueError("the belief must be a distribution")
        if not ((self.passes >= 0.0) & (self.passes <= 1.0)).all():
            raise ValueError("a probability to pass is outside 0 to 1")
        if not ((self.ending >= 0.0).all() and 0.0 <= self.hand_over < np.inf):
            raise ValueError("ending and handing over cost nothing or something finite")

    @cached_property
    def still(self) -> Floats:
        """Probability that the complaint's test does not pass, shape (H,)."""
        return 1.0 - self.passes

    @cached_property
    def ended(self) -> Floats:
        """Expected price of passing unnoticed, once the complaint's test is done [money], shape (H,)."""
        return self.passes * self.ending

    def test_prices(self, opened: Iterable[int]) -> Floats:
        """Price of each test, access included [money], shape (T,)."""
        reach = self.access.inside @ (self.access.closed(opened) * self.access.price)
        prices: Floats = self.tests.price + reach[self.tests.place]
        return prices

    def repair_prices(self, opened: Iterable[int]) -> Floats:
        """Price of each repair, access and proof included [money], shape (R,)."""
        reach = self.access.inside @ (self.access.closed(opened) * self.access.price)
        prices: Floats = self.repairs.price + reach[self.repairs.place]
        return prices

    def after_test(self, stage: Stage, test: int) -> Stage:
        """The stage once a test is done."""
        opened = stage.opened | self.access.path(int(self.tests.place[test]))
        return Stage(opened, stage.tests | {test}, stage.repairs)

    def after_repair(self, stage: Stage, repair: int) -> Stage:
        """The stage once a repair is done."""
        opened = stage.opened | self.access.path(int(self.repairs.place[repair]))
        return Stage(opened, stage.tests, stage.repairs | {repair})

    def split(self, weights: Floats, test: int) -> Floats:
        """Weights together with each outcome of a test, shape (H, outcomes)."""
        joint: Floats = weights[:, None] * self.tests.likelihood[:, self.tests.columns[test]]
        return joint

    def repaired(self, weights: Floats, repair: int) -> Floats:
        """Weights once a repair is done and before it is proved, shape (H,)."""
        done = weights * self.repairs.success[repair]
        left = np.bincount(self.repairs.after[repair], done, len(weights))
        left += np.bincount(self.repairs.otherwise[repair], weights - done, len(weights))
        result: Floats = left.astype(np.float64, copy=False)
        return result

    def tests_left(self, stage: Stage) -> list[int]:
        """Tests that have not been done."""
        return [test for test in range(len(self.tests.outcomes)) if test not in stage.tests]

    def repairs_left(self, stage: Stage) -> list[int]:
        """Repairs that have not been done."""
        return [repair for repair in range(len(self.repairs.price)) if repair not in stage.repairs]
