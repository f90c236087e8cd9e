"""What the decision needs besides the findings: repairs, prices, open places; the part that never changes, once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from advisor.decision.advice import Costs
from advisor.decision.expected import Orders, Restores, expected_costs
from advisor.decision.leaving import Blown, Left, left_after
from advisor.decision.repairs import RepairPlan
from advisor.decision.working import proving_minutes, reach_minutes, timed_plans, timed_test
from advisor.knowledge.catalogue import Test
from advisor.knowledge.model import Model
from advisor.knowledge.places import path
from advisor.network.tables import Groups
from advisor.network.worlds import SPECIALS, UNLISTED, Ints, Worlds

Floats = NDArray[np.float64]

LIGHT = 1e-4
"""Share of all weight that the lightest classes of hypotheses may have which are not looked at one by one."""
EXPLAIN_MINUTES = 10.0
"""Function sweep and explaining the normal behaviour [min]: common practice, no source."""


@dataclass(frozen=True)
class Groundwork:
    """What deciding needs of a model and what neither findings nor costs change.

    Attributes:
        plans: All repairs of the circuit.
        restores: Which repair cures which cause.
        classes: The same for classes of hypotheses that the same repairs cure, G of them.
        groups: The hypotheses of each class.
        touched: The classes that each repair touches, explaining last.
        risky: Tests whose jumper could draw more than its fuse carries, J of them.
        overloads: 1 where it does, shape (H, J).
        after: The hypothesis that each repair leaves of each, explaining last, shape (R + 1, H), where whoever mends
            a short replaces the fuse that it has cost.
        exactly: The same where nothing is replaced but what the repair says.
    """

    plans: tuple[RepairPlan, ...]
    restores: Restores
    classes: Restores
    groups: Groups
    touched: Groups
    risky: NDArray[np.intp]
    overloads: Floats
    after: Ints
    exactly: Left


_KEPT: WeakKeyDictionary[Model, Groundwork] = WeakKeyDictionary()


def groundwork(model: Model) -> Groundwork:
    """The groundwork of a model, made at its first use and kept as long as the model is."""
    found = _KEPT.get(model)
    if found is None:
        found = _KEPT[model] = _lay(model)
    return found


def _lay(model: Model) -> Groundwork:
    plans = timed_plans(model)
    cures = [[cause in plan.restores for cause in model.compiled.causes] for plan in plans]
    restores = Restores(model.compiled.members, np.array(cures, dtype=bool))
    classes, class_of = restores.merged()
    groups = Groups.of(class_of[:, None], len(classes.members))
    rating = model.schematic.library.instruments["jumper"].fuse_amps or 0.0
    over = model.compiled.jumper_amps > rating
    risky = np.flatnonzero(over.any(axis=0))
    overloads = over[:, risky].astype(np.float64)
    after = left_after(restores, model.compiled.severities).after
    exactly = left_after(restores, model.compiled.severities, _blown(model))
    touched = Groups.where(classes.touches().T)
    return Groundwork(plans, restores, classes, groups, touched, risky, overloads, after, exactly)


def _blown(model: Model) -> Blown | None:
    """The fuses of a circuit; a table has none."""
    if not model.compiled.latched.size:
        return None
    causes, netlist = model.compiled.causes, model.wiring.netlist
    opens = {cause.part: causes.index(cause.id) for cause in model.wiring.causes if cause.mode.effect == "open"}
    fuses = [netlist.elements[i].id for i in netlist.of_kind("fuse")]
    return Blown(model.compiled.latched, np.array([opens.get(fuse, -1) for fuse in fuses], dtype=np.intp))


def lightest(weights: Floats, share: float) -> NDArray[np.bool_]:
    """The lightest of some weights, which together have no more than a share of all, shape of `weights`."""
    order, light = np.argsort(weights, kind="stable"), np.zeros(len(weights), dtype=bool)
    light[order] = np.cumsum(weights[order]) <= share * weights.sum()
    return light


@dataclass(frozen=True)
class Bench:
    """A model with its groundwork, the places that stand open, the costs, and what tests would show at this supply."""

    model: Model
    opened: frozenset[str]
    costs: Costs
    worlds: Worlds

    @cached_property
    def ground(self) -> Groundwork:
        """What does not change from case to case."""
        return groundwork(self.model)

    def repair_minutes(self, plan: RepairPlan, opened: frozenset[str]) -> float:
        """Minutes of a repair: access, doing, proving."""
        return reach_minutes(self.model, plan.place, opened) + plan.minutes + proving_minutes(self.model)

    def prices(self, opened: frozenset[str]) -> Floats:
        """Cost of every repair, explaining last [money], shape (R + 1,)."""
        reach = {plan.place: 0.0 for plan in self.ground.plans}
        reach = {place: reach_minutes(self.model, place, opened) for place in reach}
        labour, proving = self.costs.labour, proving_minutes(self.model)
        each = [labour(reach[p.place] + p.minutes + proving) + p.price for p in self.ground.plans]
        return np.array([*each, labour(EXPLAIN_MINUTES)])

    def expected(self, weights: Floats, opened: frozenset[str]) -> Orders:
        """Expected cost of repair of one distribution, shape (H,)."""
        return self.expected_of(self.masses(weights), self.prices(opened))

    def masses(self, weights: Floats) -> Floats:
        """Mass of each class of hypotheses, shape (G, 1)."""
        return self.ground.groups.sums(np.ones((len(weights), 1)), weights)

    def expected_of(self, masses: Floats, price: Floats) -> Orders:
        """Expected cost of repair of distributions over the classes, shape (G, Q); `price` as for `expected_costs`."""
        touched, classes = self.ground.touched.sums(masses), self.ground.classes
        light = lightest(masses.sum(axis=1), LIGHT)
        light[:SPECIALS] = False
        if light.any():  # together they hardly weigh: they end in handing over, which no cost exceeds by much
            rest = masses[light].sum(axis=0)
            masses, classes = masses[~light], Restores(classes.members[~light], classes.cures)
            masses[UNLISTED] += rest
        return expected_costs(classes, touched, masses, price, self.costs.hand_over)

    def overload(self, weights: Floats) -> Floats:
        """Probability that a jumper test would draw more than its fuse carries, shape (T,)."""
        over = np.zeros(len(self.model.compiled.tests))
        over[self.ground.risky] = weights @ self.ground.overloads
        return over

    def test_minutes(self, test: Test) -> float:
        """Minutes of a test now: access and doing; a look needs nothing opened."""
        reach = reach_minutes(self.model, test.place, self.opened) if test.opens else 0.0
        return reach + timed_test(self.model, test)

    def prices_after(self, tests: Sequence[Test]) -> Floats:
        """Cost of every repair once the test of each column has opened what it opens, shape (outcomes, R + 1)."""
        opened = [self.opened_by(test) for test in tests]
        price = {places: self.prices(places) for places in set(opened)}
        return np.repeat([price[places] for places in opened], [len(test.outcomes) for test in tests], axis=0)

    def opened_by(self, test: Test) -> frozenset[str]:
        """Places that stand open after a test."""
        if not test.opens:
            return self.opened
        return self.opened | frozenset(path(self.model.schematic.places, test.place))
