"""Splits, verdicts and drift against what is known of them."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from advisor.refit.drift import drifts
from advisor.refit.splitting import later
from advisor.refit.verdict import LEAST_ORDERS, WORTH, Gain, verdict


def table(months):
    """Patterns of one order each by month."""
    return pd.DataFrame({"period": months, "count": 1})


def test_later_orders_are_the_last_whole_periods():
    """Three tenths of the orders at most are kept back, by whole periods; no period is early; one is not split."""
    months = [f"2025-{m:02d}" for m in range(1, 11) for _ in range(10)]
    assert later(table(months)).sum() == 30
    assert sorted(set(np.array(months)[later(table(months))])) == ["2025-08", "2025-09", "2025-10"]
    assert not later(table(["2025-01"] * 5)).any()
    assert later(table(["2025-01"] * 2 + ["2025-02"] * 8)).tolist() == [False] * 2 + [True] * 8
    assert later(table(["", *months]))[0] == np.False_


def test_better_is_said_in_at_most_one_case_of_twenty_where_nothing_differs():
    """Paired losses of two forecasts that are equally good, with heavy tails, as log losses have."""
    rng, said = np.random.default_rng(11), []
    for _ in range(1000):
        old, noise = rng.exponential(1.0, 60), rng.standard_t(4, 60) * 0.2
        loss = Gain.of(old, old + noise - 0.0, np.ones(60))
        said.append(verdict(loss, Gain.of(old, old, np.ones(60)), 100.0))
    share = said.count("better") / 1000
    assert share <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / 1000)
    assert said.count("better") > 0


def test_sure_but_next_to_nothing_is_neither_better_nor_worse():
    """Differences of thousandths of a nat, however sure, do not make a release worth it, nor speak against it."""
    for gain in (-0.8 * WORTH, 0.8 * WORTH):
        noise = np.random.default_rng(3).normal(0.0, 0.002, 200)
        loss = Gain.of(noise - noise.mean() + gain, np.zeros(200), np.ones(200))
        assert loss.low * loss.high > 0.0
        assert verdict(loss, Gain.of(np.zeros(200), np.zeros(200), np.ones(200)), 100.0) == "no worse"


@pytest.mark.parametrize(
    ("gain", "cost", "count", "expected"),
    [
        (0.2, 0.0, 200, "better"),
        (-0.2, 0.0, 200, "worse"),
        (0.2, -30.0, 200, "worse"),
        (0.0, 0.0, 4000, "no worse"),
        (0.2, 0.0, LEAST_ORDERS - 1, "too few orders"),
        (0.0, 0.0, 40, "too few orders"),
    ],
)
def test_verdicts(gain, cost, count, expected):
    """Each verdict where it is due."""
    rng = np.random.default_rng(1)
    noise = rng.normal(0.0, 0.5, count)
    loss = Gain.of(noise - noise.mean() + gain, np.zeros(count), np.ones(count))
    paid = Gain.of(noise - noise.mean() + cost, np.zeros(count), np.ones(count))
    assert verdict(loss, paid, 100.0) == expected


def test_limits_of_a_gain_are_students():
    """Mean and limits as scipy's paired t test has them; counts stand for rows."""
    rng = np.random.default_rng(2)
    old, new = rng.normal(1.0, 0.3, 25), rng.normal(0.9, 0.3, 25)
    found = Gain.of(old, new, np.ones(25))
    test = stats.ttest_rel(old, new)
    interval = test.confidence_interval(0.9)
    assert (found.low, found.high) == pytest.approx((interval.low, interval.high))
    doubled = Gain.of(old, new, np.full(25, 2.0))
    rows = Gain.of(np.repeat(old, 2), np.repeat(new, 2), np.ones(50))
    assert (doubled.low, doubled.high) == pytest.approx((rows.low, rows.high))


def test_drift_is_the_likelihood_ratio_test():
    """P as scipy's G test has it; a planted change is found, and equal shares raise no alarm."""
    before, after = np.array([40.0, 60.0, 100.0, 2.0]), np.array([80.0, 40.0, 80.0, 1.0])
    circuit = np.zeros(4, dtype=np.intp)
    found = {d.place: d for d in drifts(before, after, circuit)}
    rest = [[40.0, 80.0], [162.0, 121.0]]
    expected = stats.chi2_contingency(rest, correction=False, lambda_="log-likelihood").pvalue
    assert found[0].p == pytest.approx(expected)
    assert 3 not in found
    rng, alarms = np.random.default_rng(4), 0
    for _ in range(200):
        pair = rng.multinomial(150, np.full(12, 1 / 12), size=2).astype(float)
        alarms += bool(drifts(*pair, np.zeros(12, dtype=np.intp)))
    assert alarms <= 200 * 0.05 + 2 * np.sqrt(200 * 0.05 * 0.95) + 3
