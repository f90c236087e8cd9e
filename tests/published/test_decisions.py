"""Worked examples of decision-theoretic troubleshooting, answered by the expected cost of repair."""

from itertools import permutations

import numpy as np
import pytest
from oracles_decision import cheapest_cost, order_cost

from advisor.decision.expected import Restores, expected_costs
from advisor.network.worlds import SPECIALS

NEVER = 1e6
"""A hand-over price that is never worth paying."""


def single_faults(count):
    """One hypothesis and one repair for each of some faults."""
    members = np.concatenate([np.full(SPECIALS, -1), np.arange(count)])[:, None]
    return Restores(members, np.eye(count, dtype=bool))


def padded(p):
    """Probabilities of the faults behind the special hypotheses, which are ruled out; shape (Q, H)."""
    rows = np.atleast_2d(p)
    return np.pad(rows, ((0, 0), (SPECIALS, 0)))


def cost(restores, p, price, hand_over=NEVER):
    """Orders and costs; explaining costs 1 and helps nobody."""
    return expected_costs(restores, restores.touches().T @ padded(p).T, padded(p).T, np.array([*price, 1.0]), hand_over)


class TestInspections:
    """Inspect and repair four parts, after D. Heckerman, J. Breese, K. Rommelse, "Decision-theoretic
    troubleshooting", 1995: whoever finds the fault repairs it, so the repairs' prices do not move the order.
    """

    P, INSPECT, REPAIR = (0.4, 0.3, 0.2, 0.1), (12.0, 20.0, 5.0, 40.0), (50.0, 30.0, 100.0, 20.0)
    FOUND = float(np.dot(P, REPAIR))

    def test_best_order(self):
        """Probability over cost gives the best of all 24 orders: 3, 1, 2, 4 at 77.6."""
        result = cost(single_faults(4), self.P, self.INSPECT)
        assert result.order[0, :4].tolist() == [2, 0, 1, 3]
        assert result.cost[0] + self.FOUND == pytest.approx(77.6, abs=1e-12)

    def test_all_orders(self):
        """The slow twin gives the second best and the worst order as published."""
        restores, weights = single_faults(4), padded(self.P)[0]
        costs = {
            order: order_cost(restores, weights, order, self.INSPECT, NEVER) + self.FOUND
            for order in permutations(range(4))
        }
        ranked = sorted(costs, key=costs.__getitem__)
        assert ranked[0] == (2, 0, 1, 3)
        assert (ranked[1], costs[ranked[1]]) == ((0, 2, 1, 3), pytest.approx(78.0, abs=1e-12))
        assert (ranked[-1], costs[ranked[-1]]) == ((3, 1, 0, 2), pytest.approx(117.2, abs=1e-12))


class TestQuestions:
    """Fuse, relay or motor, and a question before the first repair (numbers by full enumeration)."""

    P, PRICE = (0.5, 0.3, 0.2), (10.0, 40.0, 120.0)
    QUESTIONS = (((0.0, 0.0, 1.0), 6.0, 50.0, 10.0), ((0.05, 0.1, 0.95), 3.0, 53.0, 4.0))

    def test_without_a_question(self):
        """Fuse, relay, motor: 54."""
        result = cost(single_faults(3), self.P, self.PRICE)
        assert result.order[0, :3].tolist() == [0, 1, 2]
        assert result.cost[0] == pytest.approx(54.0, abs=1e-12)

    @pytest.mark.parametrize(("yes", "price", "with_question", "gross"), QUESTIONS)
    def test_with_a_question(self, yes, price, with_question, gross):
        """A question's price and the costs after its answers, weighted, sum to 50 and 53; it saves 10 and 4."""
        joint = np.array([np.multiply(self.P, yes), np.multiply(self.P, 1.0 - np.array(yes))])
        after = cost(single_faults(3), joint, self.PRICE).cost.sum()
        assert price + after == pytest.approx(with_question, abs=1e-12)
        assert 54.0 - after == pytest.approx(gross, abs=1e-12)

    def test_perfect_information(self):
        """Knowing the fault saves 13."""
        assert 54.0 - cost(single_faults(3), np.diag(self.P), self.PRICE).cost.sum() == pytest.approx(13.0, abs=1e-12)


class TestOverlap:
    """Three actions that fix two of four faults each: probability over cost is no longer optimal.

    F. Jensen and others, "The SACSO methodology for troubleshooting complex systems", 2001 (from memory).
    """

    P, FIXES = (0.20, 0.25, 0.40, 0.15), ((0, 1), (1, 2), (2, 3))

    @pytest.fixture
    def restores(self):
        """Which action fixes which fault."""
        cures = np.zeros((3, 4), dtype=bool)
        for action, faults in enumerate(self.FIXES):
            cures[action, list(faults)] = True
        return Restores(single_faults(4).members, cures)

    @pytest.mark.parametrize(
        ("order", "expected"),
        [((1, 0, 2), 1.5), ((2, 0), 1.45), ((1, 2, 0), 1.55), ((0, 2), 1.55), ((0, 1, 2), 1.7), ((2, 1, 0), 1.65)],
    )
    def test_orders(self, restores, order, expected):
        """The slow twin gives every published order's cost."""
        assert order_cost(restores, padded(self.P)[0], order, (1.0, 1.0, 1.0), NEVER) == pytest.approx(expected)

    def test_the_cost_is_an_upper_bound(self, restores):
        """The engine's cost lies between the optimum, 1.45, and that of the plain order by probability, 1.55."""
        found = cost(restores, self.P, (1.0, 1.0, 1.0)).cost[0]
        best = cheapest_cost(restores, padded(self.P)[0], (1.0, 1.0, 1.0), NEVER)
        assert best == pytest.approx(1.45, abs=1e-12)
        assert best - 1e-12 <= found <= 1.55 + 1e-12


@pytest.mark.parametrize("parts", [4, 8, 9, 16])
def test_half_split(parts):
    """Among equal parts in series with equal costs, the test in the middle is worth most, and worth falls outwards."""
    p = np.full(parts, 1.0 / parts)
    before = np.tri(parts - 1, parts)  # the test behind part t says whether the fault lies in parts 0 to t
    joint = np.stack([before * p, (1.0 - before) * p], axis=1).reshape(-1, parts)
    price = [30.0] * parts
    after = cost(single_faults(parts), joint, price).cost.reshape(-1, 2).sum(axis=1)
    worth = cost(single_faults(parts), p, price).cost[0] - after
    middle = np.abs(np.arange(1, parts) - parts / 2.0)
    assert np.flatnonzero(worth > worth.max() - 1e-9).tolist() == np.flatnonzero(middle == middle.min()).tolist()
    assert (np.diff(worth[np.argsort(middle, kind="stable")]) <= 1e-9).all()
