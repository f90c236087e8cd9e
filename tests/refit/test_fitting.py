"""Laws of fits: the objective never falls, a general optimiser finds the same, intervals hold what they say."""

import numpy as np
import pytest
from fit_problems import coverage, small
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles_refit import best_factors, objective, plain_sweeps
from scipy import sparse, stats

from advisor.refit.counted import Counted
from advisor.refit.firmness import FIRMNESS, firmness
from advisor.refit.fitting import Gamma, fit, penalised
from advisor.refit.intervals import drawn, known, variance_of_log


def tangled(seed, exposure=False):
    """Patterns in which sets of up to three faults share factors of two kinds, under two contexts, specials among."""
    rng = np.random.default_rng(seed)
    terms, factors, strata, patterns = 9, 6, 4, 7
    degrees = [sparse.csr_array(rng.integers(0, 2, (terms, factors)).astype(float)) for _ in range(2)]
    usual = rng.dirichlet(np.ones(terms), strata)
    stratum = rng.integers(0, strata, patterns)
    share = usual[stratum] * rng.random((patterns, terms)) * (rng.random((patterns, terms)) < 0.7)
    return Counted(
        sparse.csr_array(share + 1e-6 * usual[stratum]),
        0.2 * rng.random(patterns),
        rng.integers(1, 30, patterns).astype(float),
        stratum,
        sparse.csr_array(usual),
        rng.integers(0, 2, strata),
        tuple(degrees),
        np.array([0, 0, 0, 1, 1, 1]),
        rng.uniform(1.0, 20.0, strata) if exposure else None,
    )


@given(st.integers(0, 10_000), st.floats(0.2, 20.0), st.booleans())
@settings(max_examples=40, deadline=None)
def test_the_penalised_objective_never_falls(seed, shape, exposure):
    """Whatever sets, contexts and exposures, no sweep lowers the objective."""
    found = fit(tangled(seed, exposure), Gamma.around_one(np.full(6, shape)), sweeps=30, enough=-1.0)
    steps = np.diff(found.objective)
    assert steps.min() >= -1e-9 * max(1.0, abs(found.objective[0]))
    assert (found.factors > 0.0).all()


@pytest.mark.parametrize("seed", range(3))
def test_a_general_optimiser_finds_the_same(seed):
    """The objective is that of a slow twin, and so is its highest point."""
    counted, before = tangled(seed), Gamma.around_one(np.full(6, 3.0))
    rng = np.random.default_rng(seed)
    for _ in range(3):
        at = rng.gamma(3.0, 1 / 3.0, 6)
        assert penalised(counted, before, at) == pytest.approx(objective(counted, before, at), rel=1e-10)
    found = fit(counted, before, sweeps=3000, enough=1e-13)
    assert found.factors == pytest.approx(best_factors(counted, before), rel=2e-3)


@pytest.mark.parametrize("seed", range(3))
def test_leaps_end_where_plain_sweeps_do(seed):
    """The same factors to 1e-8 where nothing moves any more, and a third of the sweeps on the way at most."""
    counted, before = tangled(seed, exposure=seed == 0), Gamma.around_one(np.full(6, 2.0))
    found, (twin, _) = fit(counted, before, sweeps=300, enough=-1.0), plain_sweeps(counted, before, 1200, -1.0)
    assert found.factors == pytest.approx(twin, rel=1e-8)
    short, (_, heights) = fit(counted, before, enough=1e-10), plain_sweeps(counted, before, 1200, 1e-10)
    assert short.sweeps < len(heights) / 3
    assert short.objective[-1] >= heights[-1] - 1e-7 * counted.count.sum()


def test_without_orders_the_handbook_stands():
    """Orders that tell nothing leave every factor at one, and say so."""
    counted = tangled(1)
    empty = counted.times(np.zeros(len(counted.count)))
    before = Gamma.around_one(np.full(6, 4.0))
    best = fit(empty, before)
    assert best.factors == pytest.approx(np.ones(6))
    draws = drawn(empty, before, best.factors, seed=3, draws=2000)
    said = known(draws, variance_of_log(before.shape))
    assert said.from_handbook.all()
    assert said.low == pytest.approx(stats.gamma.ppf(0.05, 4.0) / 4.0, rel=0.1)
    assert said.high == pytest.approx(stats.gamma.ppf(0.95, 4.0) / 4.0, rel=0.1)


def test_draws_repeat_for_a_seed_and_counts_may_stand_for_rows():
    """Equal seeds give equal draws; forty equal orders as one row tell what they tell as forty rows."""
    problem = small(4)
    once = problem.counted({(0, 1, -1): 40, (1, 2, 3): 5})
    twice = once.of(np.array([0] * 40 + [1] * 5)).times(np.ones(45))
    before = Gamma.around_one(problem.shape)
    assert fit(once, before).factors == pytest.approx(fit(twice, before).factors)
    first, again = (drawn(once, before, np.ones(len(before.shape)), seed=9, draws=50) for _ in range(2))
    assert (first == again).all()
    means = [
        np.log(drawn(each, before, np.ones(len(before.shape)), seed=9, draws=1500)).mean(axis=0)
        for each in (once, twice)
    ]
    assert means[0] == pytest.approx(means[1], abs=0.12)


def test_intervals_hold_the_truth_as_often_as_they_say():
    """A dozen fleets with rates from the prior in use: pooled 90 % coverage within two standard errors by fleet."""
    found = coverage(12, 7, draws=200)
    for name in ("drawn", "closed form"):
        rate, error = found.covered[name]
        assert abs(rate - 0.9) <= 2.0 * error, name
    assert found.covered["plain gamma"][0] < found.covered["drawn"][0]
    assert stats.kstest(found.ranks, "uniform").pvalue > 0.001


def test_few_orders_hold_the_handbook_firmly_and_many_do_not():
    """Where nothing differs the firmest hold is taken; where much differs and orders are many, a loose one."""
    problem, shape = small(2, confirmed=1.0), small(2).shape
    rng = np.random.default_rng(5)
    same = problem.orders(np.ones(len(shape)), 60, rng)
    other = problem.orders(rng.gamma(shape / 3.0) / (shape / 3.0), 1500, rng)
    assert firmness(same, lambda firmer: shape * firmer, 1) == FIRMNESS[-1]
    assert firmness(other, lambda firmer: shape * firmer, 1) <= 3.0
