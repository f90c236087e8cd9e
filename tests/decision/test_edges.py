"""Tests that are worth about the same, told apart by the edges between repairs that they cut."""

from itertools import product

import numpy as np
import pytest
from problems import drawn, lone_faults

from advisor.decision.edges import cuts, margin, sharpest
from advisor.decision.outlook import Outlook
from advisor.decision.problem import Stage

KNOWING, NOTHING = [[1.0, 0.0], [0.0, 1.0]], [[0.5, 0.5], [0.5, 0.5]]
HARDLY = [[0.55, 0.45], [0.45, 0.55]]


def called_for(problem):
    """The first repair of the cheapest way of each hypothesis, tried one by one; -1 is handing over.

    What leaves a fault as it is, and the complaint seen, is no repair of it.
    """
    rest, after = Outlook.of(problem).known.rest(frozenset()), problem.repairs.after
    price = problem.repair_prices(())

    def cost(repair, fault):
        idle = after[repair, fault] == fault and problem.passes[fault] < 0.5
        return np.inf if idle else price[repair] + rest[repair, fault]

    costs = [[cost(r, h) for r in range(len(price))] for h in range(len(problem.belief))]
    return [-1 if min(row) >= problem.hand_over else int(np.argmin(row)) for row in costs]


@pytest.mark.parametrize("seed", range(8))
def test_cuts_by_pairs(seed):
    """What a test cuts is the weight of pairs that call for different repairs, before less after."""
    problem = drawn(seed)
    repair, tests = called_for(problem), list(range(len(problem.tests.price)))

    def joined(weights):
        pairs = product(range(len(weights)), repeat=2)
        return sum(weights[a] * weights[b] for a, b in pairs if repair[a] != repair[b])

    slow = []
    for test in tests:
        after = [joined(column) / column.sum() for column in problem.split(problem.belief, test).T if column.sum() > 0]
        slow.append(joined(problem.belief) - sum(after))
    found = cuts(Outlook.of(problem), Stage(), problem.belief, tests)
    assert found == pytest.approx(slow, rel=1e-9, abs=1e-12)
    assert (found >= -1e-12).all()


def test_a_sure_test_cuts_everything():
    """Two faults of .3 and .7 leave 1 - .09 - .49 = .42; to know which cuts all of it, to toss a coin nothing."""
    tests = [(2.0, NOTHING), (6.0, KNOWING), (12.0, KNOWING), (0.01, HARDLY)]
    problem = lone_faults((0.3, 0.7), (100.0, 100.0), tests=tests)
    outlook = Outlook.of(problem)
    assert cuts(outlook, Stage(), problem.belief, [0, 1, 2, 3]) == pytest.approx([0.0, 0.42, 0.42, 0.0035337], abs=1e-6)
    assert sharpest(outlook, Stage(), problem.belief, [2, 0, 1, 3]) == 1


def test_what_one_repair_cures_is_one_class():
    """Between faults that the same repair cures there is nothing to cut."""
    problem = lone_faults((0.3, 0.7), (100.0,), fixes=[[1, 1]], tests=[(6.0, KNOWING), (1.0, NOTHING)])
    assert cuts(Outlook.of(problem), Stage(), problem.belief, [0, 1]) == pytest.approx([0.0, 0.0], abs=1e-15)
    assert sharpest(Outlook.of(problem), Stage(), problem.belief, [1, 0]) == 1  # as much as the other: the first stays


def test_what_counts_as_the_same():
    """Two and a half of 100, a twentieth of 20, nothing where nothing is saved."""
    assert [margin(worth) for worth in (100.0, 20.0, 0.0, -3.0)] == [2.5, 1.0, 0.0, 0.0]
