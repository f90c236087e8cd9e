"""Expected cost of repair against repairs done one after the other."""

import numpy as np
import pytest
from oracles_decision import cheapest_cost, order_cost

from advisor.decision.expected import Restores, expected_costs
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED

CASES = range(40)


def instance(seed, *, disjoint):
    """Random fault sets of up to two of five causes, four repairs, weights, prices and a hand-over price."""
    rng = np.random.default_rng(seed)
    pairs = [(a, b) for a in range(5) for b in range(a + 1, 5) if rng.random() < 0.5]
    sets = [*[(-1, -1)] * SPECIALS, *((c, -1) for c in range(5)), *([] if disjoint else pairs)]
    cures = rng.random((4, 5)) < 0.4
    if disjoint:
        cures = rng.integers(4, size=5) == np.arange(4)[:, None]
    weights = rng.dirichlet(np.ones(len(sets)), 3)
    if disjoint:
        weights[:, [NONE, AS_DESIGNED]] = 0.0
    hand_over = float(rng.choice([80.0, 250.0, 1000.0]))
    return Restores(np.array(sets), cures), weights, rng.uniform(10.0, 120.0, 5), hand_over


@pytest.mark.parametrize("seed", CASES)
def test_cost_is_that_of_doing_the_repairs(seed):
    """For the order that is returned, the cost is that of the slow twin, stopped where stopping is cheapest."""
    restores, weights, price, hand_over = instance(seed, disjoint=False)
    found = expected_costs(restores, restores.touches().T @ weights.T, weights.T, price, hand_over)
    for row, order, cost in zip(weights, found.order.tolist(), found.cost, strict=True):
        assert cost == pytest.approx(order_cost(restores, row, order, price, hand_over), rel=1e-12)


@pytest.mark.parametrize("seed", CASES)
def test_cost_is_never_below_the_best_order(seed):
    """The cost is an upper bound of the best of all orders, and no dearer than handing over at once."""
    restores, weights, price, hand_over = instance(seed, disjoint=False)
    found = expected_costs(restores, restores.touches().T @ weights.T, weights.T, price, hand_over).cost
    for row, cost in zip(weights, found, strict=True):
        assert cost >= cheapest_cost(restores, row, price, hand_over) - 1e-9
        assert cost <= row.sum() * hand_over + 1e-9


@pytest.mark.parametrize("seed", CASES)
def test_disjoint_cures_are_ordered_best(seed):
    """Where each fault stands alone and one repair cures it, no order and no stopping is cheaper."""
    restores, weights, price, hand_over = instance(seed, disjoint=True)
    found = expected_costs(restores, restores.touches().T @ weights.T, weights.T, price, hand_over).cost
    for row, cost in zip(weights, found, strict=True):
        assert cost == pytest.approx(cheapest_cost(restores, row, price, hand_over), rel=1e-12)


def test_nothing_wrong_is_touched_by_explaining_only():
    """Explaining ends none and as designed, repairs touch the sets that they cure, nothing touches unlisted."""
    restores = Restores(
        np.array([[-1, -1], [-1, -1], [-1, -1], [0, -1], [0, 1]]), np.array([[1, 0], [0, 1]], dtype=bool)
    )
    assert restores.touches().tolist() == [[0, 0, 1], [0, 0, 1], [0, 0, 0], [1, 0, 0], [1, 1, 0]]


def test_unlisted_is_handed_over():
    """With nothing but an unlisted fault left, the cheapest is to hand over at once."""
    restores = Restores(np.array([[-1], [-1], [-1], [0]]), np.array([[True]]))
    weights = np.zeros((1, 4))
    weights[0, UNLISTED] = 1.0
    found = expected_costs(restores, restores.touches().T @ weights.T, weights.T, np.array([40.0, 10.0]), 250.0)
    assert (found.cost[0], found.stop[0]) == (250.0, 0)


def test_costs_scale_with_the_weights():
    """Weights need not sum to 1: twice the weight is twice the cost, in the same order."""
    restores, weights, price, hand_over = instance(0, disjoint=False)
    once, twice = (
        expected_costs(restores, restores.touches().T @ w.T, w.T, price, hand_over) for w in (weights, 2.0 * weights)
    )
    assert twice.cost == pytest.approx(2.0 * once.cost, rel=1e-14)
    assert (twice.order == once.order).all()


@pytest.mark.parametrize("seed", CASES)
def test_classes_cost_what_their_hypotheses_cost(seed):
    """Hypotheses that the same repairs cure are valued as one, and neither cost, order nor stopping moves."""
    restores, weights, price, hand_over = instance(seed, disjoint=False)
    classes, class_of = restores.merged()
    masses = np.stack([np.bincount(class_of, row, minlength=len(classes.members)) for row in weights], axis=1)
    whole = expected_costs(restores, restores.touches().T @ weights.T, weights.T, price, hand_over)
    merged = expected_costs(classes, classes.touches().T @ masses, masses, price, hand_over)
    assert merged.cost == pytest.approx(whole.cost, rel=1e-12)
    assert (merged.order == whole.order).all()
    assert (merged.stop == whole.stop).all()
