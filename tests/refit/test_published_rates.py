"""Fits and scores against published worked cases and engines written elsewhere.

L-1, L-2: failure on demand and failure rate as in H. Martz, R. Waller and the handbook NUREG/CR-6823 (posterior of L-1
as printed on the rate pages of Idaho National Laboratory; its prior from memory), quantiles by scipy.
L-3: orders with unverified causes, computed by hand.  L-5: scores, computed by hand.
"""

import numpy as np
import pytest
from outside_engines import pgmpy_shares, pyagrum_shares
from scipy import sparse, stats
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss, log_loss

from advisor.refit import scoring
from advisor.refit.counted import Counted
from advisor.refit.fitting import Gamma, fit, shared
from advisor.refit.fitting import orders as shares
from advisor.refit.intervals import closed_form, drawn

L5_P = np.array([0.9, 0.8, 0.7, 0.6, 0.3, 0.2, 0.1, 0.1])
L5_Y = np.array([1.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 0.0])


def plain(rows, counts, causes, exposure=None):
    """Orders of one complaint, a row of likelihoods each, causes alike beforehand."""
    usual = np.full((1, causes), 1.0 / causes)
    return Counted(
        sparse.csr_array(np.array(rows) * usual),
        np.zeros(len(rows)),
        np.array(counts, dtype=float),
        np.zeros(len(rows), dtype=np.intp),
        sparse.csr_array(usual),
        np.zeros(1, dtype=np.intp),
        (sparse.csr_array(np.eye(causes)),),
        np.zeros(causes, dtype=np.intp),
        exposure,
    )


@pytest.mark.parametrize(
    ("before", "mean", "low", "high"),
    [((4.2, 153.1), 0.031458, 0.012840, 0.056476), ((0.5, 0.5), 0.1666667, 0.022465, 0.396673)],
)
def test_failures_on_demand(before, mean, low, high):
    """L-1 and its Jeffreys case: one failure in eight demands; shares of gamma variables are beta."""
    orders = plain(np.eye(2), [1, 7], 2)
    gamma = Gamma(np.array(before), np.ones(2))
    best = fit(orders, gamma, enough=1e-13)
    assert best.factors[0] / best.factors.sum() == pytest.approx(mean, abs=2e-5)
    draws = drawn(orders, gamma, best.factors, seed=1, draws=3_000)
    share = draws[:, 0] / draws.sum(axis=1)
    assert share.mean() == pytest.approx(mean, rel=0.05)
    assert np.quantile(share, [0.05, 0.95]) == pytest.approx([low, high], rel=0.12)


def test_failures_in_time():
    """L-2, Jeffreys: two events in ten units of exposure; mean .25, 5 % and 95 % points .057274 and .553525."""
    orders = plain([[1.0]], [2], 1, exposure=np.array([10.0]))
    gamma = Gamma(np.array([0.5]), np.array([0.0]))
    best = fit(orders, gamma)
    assert best.factors == pytest.approx([0.25])
    closed = closed_form(orders, gamma, best.factors, np.eye(1))
    assert [closed.low[0], closed.high[0]] == pytest.approx([0.057274, 0.553525], abs=1e-6)
    draws = drawn(orders, gamma, best.factors, seed=2, draws=3_000)[:, 0]
    assert np.quantile(draws, [0.05, 0.95]) == pytest.approx([0.057274, 0.553525], rel=0.1)


@pytest.mark.parametrize(("pseudo", "share"), [(1e-9, 0.77258156), (1.0, 0.72053562)])
def test_unverified_causes(pseudo, share):
    """L-3: four verified fuses, two relays, four unverified whose test says .8 to .2; flat, and Dir(2, 2)."""
    orders = plain([[1.0, 0.0], [0.0, 1.0], [0.8, 0.2]], [4, 2, 4], 2)
    best = fit(orders, Gamma.around_one(np.full(2, pseudo)), sweeps=5000, enough=1e-13)
    assert best.factors[0] / best.factors.sum() == pytest.approx(share, abs=2e-5)
    if pseudo < 1e-6:
        assert shares(orders, shared(orders, best.factors))[2] / 4.0 == pytest.approx(0.93145391, abs=2e-5)


def test_scores_of_a_worked_case():
    """L-5: Brier .18125 for one class, .3625 summed over both, log loss .52751705, ECE .1625 in five equal bins."""
    one = np.ones(len(L5_P))
    both = np.column_stack([L5_P, 1 - L5_P]), np.column_stack([L5_Y, 1 - L5_Y])
    assert scoring.brier_one_class(L5_P, L5_Y, one) == pytest.approx(0.18125)
    assert scoring.brier_all_classes(*both, one) == pytest.approx(0.3625)
    assert scoring.log_loss(L5_P, L5_Y, one) == pytest.approx(0.527517047844056)
    assert scoring.curve(L5_P, L5_Y, one, scoring.equal_width(L5_P, 5)).ece == pytest.approx(0.1625)


def test_scores_are_those_of_another_library():
    """Brier, log loss and the calibration curve in equal-mass bins as scikit-learn has them."""
    rng = np.random.default_rng(5)
    p = rng.uniform(0.01, 0.99, 400)
    y, one = (rng.random(400) < p**1.3).astype(float), np.ones(400)
    assert scoring.brier_one_class(p, y, one) == pytest.approx(brier_score_loss(y, p))
    assert scoring.log_loss(p, y, one) == pytest.approx(log_loss(y, p))
    happened, said = calibration_curve(y, p, n_bins=8, strategy="quantile")
    found = scoring.curve(p, y, one, scoring.equal_mass(p, one, 8))
    assert found.said == pytest.approx(said, abs=1e-12)
    assert found.happened == pytest.approx(happened, abs=1e-12)
    bins = scoring.equal_width(p, 8)
    parts = scoring.decomposed(p, y, one, bins)
    assert parts.brier == pytest.approx(brier_score_loss(y, p))
    assert abs(parts.within) < 0.01


def complete(rng, causes=4, count=60):
    """Complete data: the cause of each order, with pseudo-counts."""
    return rng.choice(causes, count, p=rng.dirichlet(np.ones(causes)))


def test_complete_data_as_pgmpy_estimates_them():
    """With every cause confirmed, shares are pgmpy's posterior means under the same Dirichlet pseudo-counts."""
    seen, pseudo = complete(np.random.default_rng(8)), np.array([2.0, 1.0, 4.0, 0.5])
    best = fit(plain(np.eye(4), np.bincount(seen, minlength=4), 4), Gamma(pseudo, np.ones(4)), enough=1e-13)
    assert best.factors / best.factors.sum() == pytest.approx(pgmpy_shares(seen, pseudo), abs=1e-5)


def test_complete_data_as_pyagrum_estimates_them(tmp_path):
    """With every cause confirmed, shares are pyAgrum's under its smoothing prior of the same weight."""
    seen = complete(np.random.default_rng(9))
    theirs = pyagrum_shares(seen, 4, 1.5, tmp_path / "orders.csv")
    gamma = Gamma(np.full(4, 1.5), np.ones(4))
    best = fit(plain(np.eye(4), np.bincount(seen, minlength=4), 4), gamma, enough=1e-13)
    assert best.factors / best.factors.sum() == pytest.approx(theirs, abs=1e-5)


def test_intervals_hold_less_of_the_truth_when_orders_are_taken_as_seen():
    """Corrected information is less than that of complete data: beta quantiles of complete data are narrower."""
    sure = plain(np.eye(2), [12, 8], 2)
    vague = plain([[0.8, 0.2], [0.2, 0.8]], [12, 8], 2)
    gamma, contrast = Gamma.around_one(np.full(2, 4.0)), np.array([[1.0, -1.0]])
    wide = []
    for orders in (sure, vague):
        best = fit(orders, gamma)
        found = closed_form(orders, gamma, best.factors, contrast)
        wide.append(float(np.log(found.high / found.low)[0]))
    odds = stats.beta(16, 12).ppf([0.05, 0.95])
    exact = np.diff(np.log(odds / (1 - odds)))[0]
    assert wide[0] == pytest.approx(exact, rel=0.15)
    assert wide[1] > 1.1 * wide[0]
