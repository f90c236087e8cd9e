"""What a problem to be decided may not be."""

from dataclasses import replace

import numpy as np
import pytest
from problems import drawn

from advisor.decision.problem import Access, Stage

PROBLEM = drawn(0)
COUNT = len(PROBLEM.belief)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"belief": PROBLEM.belief * 0.5}, "distribution"),
        ({"belief": np.full(COUNT, np.nan)}, "distribution"),
        ({"belief": PROBLEM.belief[1:]}, "as many entries"),
        ({"passes": np.full(COUNT, 1.5)}, "outside 0 to 1"),
        ({"ending": np.full(COUNT, -1.0)}, "ending"),
        ({"hand_over": np.inf}, "finite"),
    ],
)
def test_wrong_problems(change, message):
    """Beliefs, chances and prices are checked when a problem is made."""
    with pytest.raises(ValueError, match=message):
        replace(PROBLEM, **change)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"likelihood": PROBLEM.tests.likelihood * 1.1}, "do not sum to 1"),
        ({"likelihood": PROBLEM.tests.likelihood[:, 1:]}, "a column for each outcome"),
        ({"price": -PROBLEM.tests.price}, "negative"),
        ({"price": PROBLEM.tests.price[1:]}, "as many entries"),
    ],
)
def test_wrong_tests(change, message):
    """Likelihoods sum to 1 and prices are not negative."""
    with pytest.raises(ValueError, match=message):
        replace(PROBLEM.tests, **change)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"after": np.full_like(PROBLEM.repairs.after, COUNT)}, "does not exist"),
        ({"success": PROBLEM.repairs.success + 0.5}, "outside 0 to 1"),
        ({"success": PROBLEM.repairs.success[:, 1:]}, "one shape"),
        ({"minutes": -PROBLEM.repairs.minutes}, "negative"),
        ({"place": PROBLEM.repairs.place[1:]}, "as many entries"),
    ],
)
def test_wrong_repairs(change, message):
    """Repairs lead to hypotheses that exist, with a probability."""
    with pytest.raises(ValueError, match=message):
        replace(PROBLEM.repairs, **change)


@pytest.mark.parametrize(
    ("parent", "price", "message"),
    [
        ([1, 0], [1.0, 1.0], "in itself"),
        ([2, -1], [1.0, 1.0], "does not exist"),
        ([-1, 0], [1.0, -1.0], "negative"),
        ([-1], [1.0, 1.0], "as many entries"),
    ],
)
def test_wrong_places(parent, price, message):
    """Places are a tree with prices."""
    with pytest.raises(ValueError, match=message):
        Access(np.array(parent), np.array(price), np.array(price))


def test_places_are_paid_once():
    """Whoever opens a place has opened what holds it; what is open costs nothing."""
    access = Access(np.array([-1, 0, 1]), np.array([5.0, 7.0, 11.0]), np.ones(3))
    places = np.array([2, -1, 0])
    tests = replace(PROBLEM.tests, price=np.zeros(3), place=places)
    problem = replace(PROBLEM, access=access, tests=tests, stage=Stage())
    assert problem.test_prices(()).tolist() == [23.0, 0.0, 5.0]
    assert problem.test_prices(problem.after_test(Stage(), 2).opened).tolist() == [18.0, 0.0, 0.0]
    assert problem.test_prices(problem.after_test(Stage(), 0).opened).tolist() == [0.0, 0.0, 0.0]
