"""Which of some tests that are worth about the same tells repairs apart best for its price.

An edge joins two hypotheses that call for different repairs; a test cuts those between hypotheses that it tells apart.
The edges left weigh what a draw of two hypotheses leaves to different repairs: D. Golovin, A. Krause, D. Ray,
"Near-optimal Bayesian active learning with noisy observations", 2010 (EC2), in the fast form 1 - sum of squares.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from advisor.decision.outlook import Outlook
from advisor.decision.problem import Stage
from advisor.network.worlds import Floats

TIE = 2.5
"""Tests whose worth differs by less are worth the same to a person [money]: less rounds to nothing where sums are told
in fives; and by no more than"""
SHARE = 0.05
"""this share of it, since where little can be saved a euro is much: judgement, with the figures in DEVELOPERS.md."""
MUCH = 0.5
"""Share of the most that a test of equal worth cuts from which it cuts much: judgement, with the figures as well."""
_FREE = 1e-9
_EQUAL = 1e-9


def margin(worth: float) -> float:
    """By how much a test may be worth less than the best one and still count as the same [money]."""
    return min(TIE, SHARE * max(worth, 0.0))


def cuts(outlook: Outlook, stage: Stage, weights: Floats, tests: Sequence[int]) -> Floats:
    """Weight of the edges that each test is expected to cut, shape (T,); weights sum to 1."""
    counts = [outlook.problem.tests.outcomes[test] for test in tests]
    _, member = np.unique(outlook.cures.class_of, return_index=True)
    repair = outlook.known.first(stage)[member]  # what every order treats alike calls for the same
    called = (np.unique(repair)[:, None] == repair).astype(np.float64)
    whole = _joined(called @ outlook.cures.masses(weights[:, None]))
    left = np.add.reduceat(_joined(called @ outlook.masses(tests, weights)), np.cumsum([0, *counts])[:-1])
    result: Floats = whole - left
    return result


def _joined(masses: Floats) -> Floats:
    """Weight of the edges within each column of masses by the repair called for, divided by its total."""
    total = masses.sum(axis=0)
    squares = (masses**2).sum(axis=0)
    joined: Floats = total - np.divide(squares, total, out=np.zeros_like(total), where=total > 0.0)
    return joined


def sharpest(outlook: Outlook, stage: Stage, weights: Floats, tests: Sequence[int]) -> int:
    """The test that cuts most for its price, of those that cut much at all; the first of those that cut as much.

    What tells next to nothing may be worth as much as the best test, for what comes after it, and be cheap.
    """
    found = cuts(outlook, stage, weights, tests)
    prices = outlook.problem.test_prices(stage.opened)[list(tests)]
    each = np.where(found >= MUCH * found.max(), found / np.maximum(prices, _FREE), 0.0)
    return tests[int((each >= each.max() * (1.0 - _EQUAL)).argmax())]
