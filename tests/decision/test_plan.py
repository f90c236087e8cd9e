"""Valuing plans against the ways that vehicles can take through them, all of them or some that are drawn."""

from dataclasses import replace

import numpy as np
import pytest
from oracles_decision import drive, ways
from problems import drawn

from advisor.decision.orders import Mover, order_cost
from advisor.decision.plan import ExplainStep, GiveUp, HandOver, RepairStep, TestStep, repairs_in_turn, value_of
from advisor.decision.search import find_plan

KEYS = ["cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over"]


def chart(problem):
    """A plan that nobody would call good: every test in turn, then all repairs backwards; explaining first."""

    def onward(test):
        if test == len(problem.tests.price):
            return repairs_in_turn(problem, range(len(problem.repairs.price) - 1)[::-1])
        return TestStep(test, tuple(onward(test + 1) for _ in range(problem.tests.outcomes[test])))

    return ExplainStep(onward(0))


def plans(problem):
    """A searched plan and a bad one."""
    return [find_plan(problem, nodes=30).plan, chart(problem)]


@pytest.mark.parametrize("seed", range(25))
def test_value_is_the_sum_over_all_ways(seed):
    """Cost, minutes, tests, wrong parts and shares are those of all ways through the plan, one vehicle at a time."""
    problem = drawn(seed)
    for plan in plans(problem):
        every = list(ways(problem, plan))
        value = value_of(problem, plan)
        assert sum(chance for chance, _ in every) == pytest.approx(1.0, abs=1e-12)
        for key in KEYS:
            expected = sum(chance * came_to.get(key, 0.0) for chance, came_to in every)
            assert getattr(value, key) == pytest.approx(expected, rel=1e-9, abs=1e-12), key
        assert value.gave_up == 0.0


@pytest.mark.parametrize("seed", range(4))
def test_value_is_what_drawn_vehicles_come_to(seed):
    """Each figure lies within four standard errors of the mean over 4,000 vehicles."""
    problem = drawn(seed)
    for plan in plans(problem):
        driven = drive(problem, plan, np.random.default_rng(seed), 4000)
        error = driven.std(axis=0) / np.sqrt(len(driven))
        value = value_of(problem, plan)
        found = np.array([getattr(value, key) for key in KEYS])
        assert (np.abs(found - driven.mean(axis=0)) <= 4.0 * error + 1e-9).all()


@pytest.mark.parametrize("seed", range(10))
def test_giving_up_goes_on_without_tests(seed):
    """Where a plan has no more to say, repairs follow by probability over cost, and the share is counted."""
    problem = drawn(seed)
    mover = Mover.of(problem)
    order = mover.greedy(mover.case(problem.stage, problem.belief)).of(0)
    value = value_of(problem, GiveUp())
    assert value.cost == pytest.approx(order_cost(problem, problem.stage, problem.belief, order), rel=1e-12)
    assert value.gave_up == pytest.approx(1.0)
    asked = TestStep(0, (GiveUp(),) * problem.tests.outcomes[0])
    split = problem.split(problem.belief, 0)
    then = problem.after_test(problem.stage, 0)
    each = sum(float(mover.greedy(mover.case(then, column)).cost[0]) for column in split.T)
    price = float(problem.test_prices(problem.stage.opened)[0])
    assert value_of(problem, asked).cost == pytest.approx(price + each, rel=1e-12)


def test_a_wrong_part_is_counted():
    """A repair that changes nothing is a wrong part, explaining never."""
    problem = drawn(0)
    idle = problem.repairs.after[0] == np.arange(len(problem.belief))
    assert value_of(problem, RepairStep(0, HandOver())).wrong_parts == pytest.approx(problem.belief[idle].sum())
    assert value_of(problem, ExplainStep(HandOver())).wrong_parts == 0.0


def test_plans_that_cannot_be_followed():
    """A branch too few, a test twice, a repair twice and nothing to explain are refused."""
    problem = drawn(0)
    many = problem.tests.outcomes[0]
    over = (HandOver(),) * many
    twice = TestStep(0, (TestStep(0, over),) * many), RepairStep(0, RepairStep(0, HandOver()))
    for plan in (TestStep(0, over[1:]), *twice):
        with pytest.raises(ValueError, match="twice"):
            value_of(problem, plan)
    with pytest.raises(ValueError, match="nothing to explain"):
        value_of(replace(problem, explain=None), ExplainStep(HandOver()))
