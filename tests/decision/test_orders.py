"""Orders of repairs without tests: cost, neighbours, and the stock of orders."""

from itertools import permutations

import numpy as np
import pytest
from oracles_decision import ways
from problems import drawn, lone_faults

from advisor.decision.merging import cures_only
from advisor.decision.orders import Columns, Mover, improved, order_cost
from advisor.decision.plan import repairs_in_turn
from advisor.decision.policies import Policies
from advisor.decision.problem import Stage

CASES = range(30)


def greedy(problem):
    """The order by probability over cost."""
    mover = Mover.of(problem)
    return mover.greedy(mover.case(problem.stage, problem.belief))


@pytest.mark.parametrize("seed", CASES)
def test_cost_is_that_of_all_ways(seed):
    """An order costs what the ways through it cost, one vehicle at a time."""
    problem = drawn(seed)
    orders = greedy(problem)
    expected = sum(
        chance * came_to["cost"] for chance, came_to in ways(problem, repairs_in_turn(problem, orders.of(0)))
    )
    assert orders.cost[0] == pytest.approx(expected, rel=1e-9)
    assert order_cost(problem, problem.stage, problem.belief, orders.of(0)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("seed", CASES)
def test_no_swap_of_neighbours_and_no_drop_helps(seed):
    """After improving, neither swapping two neighbours nor dropping a step makes the order cheaper."""
    problem = drawn(seed)

    def cost(order):
        return order_cost(problem, problem.stage, problem.belief, order)

    start = greedy(problem).of(0)
    order = improved(problem, problem.stage, problem.belief, start)
    assert cost(order) <= cost(start)
    for i in range(len(order)):
        assert cost(order[:i] + order[i + 1 :]) >= cost(order) * (1.0 - 1e-11)
    for i in range(len(order) - 1):
        swapped = (*order[:i], order[i + 1], order[i], *order[i + 2 :])
        assert cost(swapped) >= cost(order) * (1.0 - 1e-11)


@pytest.mark.parametrize("seed", CASES)
def test_lone_faults_are_ordered_best(seed):
    """Where each fault stands alone and one repair cures it, no order and no place to stop is cheaper."""
    rng = np.random.default_rng(seed)
    problem = lone_faults(rng.dirichlet(np.ones(4)), rng.uniform(10.0, 120.0, 4), hand_over=rng.choice([80.0, 250.0]))
    every = [order[:stop] for order in permutations(range(4)) for stop in range(5)]
    best = min(order_cost(problem, Stage(), problem.belief, order) for order in every)
    assert greedy(problem).cost[0] == pytest.approx(best, rel=1e-12)


@pytest.mark.parametrize("seed", CASES)
def test_many_at_once(seed):
    """Many cases valued together, each with its own places and repairs left, cost what each costs alone."""
    problem, rng = drawn(seed), np.random.default_rng(seed)
    mover, count = Mover.of(problem), len(problem.repairs.price)
    weights = rng.dirichlet(np.ones(len(problem.belief)), 6).T * rng.random(6)
    stages = [
        Stage(frozenset(np.flatnonzero(rng.random(3) < 0.5).tolist()), repairs=frozenset({int(rng.integers(count))}))
        for _ in range(6)
    ]
    alone = [mover.case(stage, column) for stage, column in zip(stages, weights.T, strict=True)]
    together = Columns(weights, np.vstack([one.closed for one in alone]), np.vstack([one.left for one in alone]))
    found = mover.greedy(together)
    for i, one in enumerate(alone):
        assert found.cost[i] == pytest.approx(mover.greedy(one).cost[0], rel=1e-12)
        assert found.of(i) == mover.greedy(one).of(0)
        assert not stages[i].repairs & set(found.of(i))


@pytest.mark.parametrize("seed", CASES)
def test_the_stock_costs_what_its_orders_cost(seed):
    """For each class of hypotheses, each order of the stock costs what it costs alone, whatever stands open."""
    small = cures_only(drawn(seed)).problem
    table = np.array([[0, 1, -1], [2, 0, 3], [1, -1, -1], [4, 2, 1], [0, 1, -1], [-1, -1, -1]])
    stock = Policies.of(small, table)
    assert len(stock.steps) == 5
    for opened in (frozenset(), frozenset({0}), frozenset({0, 1, 2})):
        costs = stock.costs(opened)
        for order, row in zip(stock.steps, costs, strict=True):
            steps = [int(step) for step in order if step >= 0]
            each = [order_cost(small, Stage(opened), one, steps) for one in np.eye(len(small.belief))]
            assert row == pytest.approx(each, rel=1e-9)
