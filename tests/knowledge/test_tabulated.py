"""Causes joined by noisy-MAX, and models made of tables."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from oracles_network import latest_of

import advisor
from advisor.errors import RequestError
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.table_model import fault_sets
from advisor.knowledge.tabulated import noisy_max
from advisor.network.findings import OutcomeFinding, ReadingFinding
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED


@pytest.fixture(scope="module")
def model():
    """The shipped model of tables."""
    return advisor.load("engine-runs-hot")


@pytest.mark.parametrize("seed", range(6))
def test_the_latest_outcome_wins(seed):
    """Every set of up to three causes against a sum over all that leak and causes may pick."""
    rng = np.random.default_rng(seed)
    outcomes = int(rng.integers(2, 5))
    leak, *rows = rng.dirichlet(np.ones(outcomes), size=5)
    members = np.array([(*c, *[-1] * (3 - len(c))) for k in range(4) for c in combinations(range(4), k)])
    table = noisy_max(leak, dict(enumerate(rows)), members)
    for causes, found in zip(members, table, strict=True):
        assert found == pytest.approx(latest_of(leak, [rows[c] for c in causes if c >= 0]), abs=1e-15)


def test_two_outcomes_are_a_noisy_or():
    """P(second) = 1 - (1 - l) prod (1 - c): .01 beside .8 and .9 gives 1 - .99 x .2 x .1 = .9802."""
    table = noisy_max((0.99, 0.01), {0: (0.2, 0.8), 1: (0.1, 0.9)}, np.array([[-1, -1], [0, -1], [1, -1], [0, 1]]))
    assert table[:, 1] == pytest.approx([0.01, 0.802, 0.901, 0.9802], abs=1e-15)


def test_fault_sets_are_closed_and_fall_in_prior():
    """All singles, then pairs, then threes of different parts; with too little room the likeliest pairs only."""
    o, part = np.array([0.1, 0.02, 0.3, 0.05, 0.2]), np.array([0, 0, 1, 2, 3])
    sets = [tuple(c for c in row if c >= 0) for row in fault_sets(o, part, 1000).tolist()]
    assert sets[:SPECIALS] == [()] * SPECIALS
    wanted = [c for k in (1, 2, 3) for c in combinations(range(5), k) if len({*part[list(c)].tolist()}) == k]
    assert sorted(sets[SPECIALS:]) == sorted(wanted)
    few = [tuple(c for c in row if c >= 0) for row in fault_sets(o, part, SPECIALS + 5 + 2).tolist()]
    assert few[SPECIALS + 5 :] == [(2, 4), (0, 2)]


def test_a_single_part_has_single_faults_only():
    """Modes of one part exclude each other."""
    assert fault_sets(np.array([0.1, 0.2]), np.array([0, 0]), 100).tolist() == [[-1], [-1], [-1], [0], [1]]


def test_a_row_of_the_file_is_found_in_the_table(model):
    """A cause alone shows what leak and its row give; what no row names shows what a sound vehicle does."""
    rows = dict(zip(model.compiled.causes, range(SPECIALS, SPECIALS + len(model.compiled.causes)), strict=True))
    fan = model.worlds.likelihood[:, model.worlds.columns[model.worlds.tests.index("fan")]]
    assert fan[NONE] == pytest.approx([0.95, 0.02, 0.03], abs=1e-12)
    assert fan[AS_DESIGNED] == pytest.approx(fan[NONE], abs=1e-15)
    assert fan[rows["gauge/reads-hot"]] == pytest.approx(fan[NONE], abs=1e-15)
    assert fan[rows["fan-motor/drags"]] == pytest.approx(latest_of((0.95, 0.02, 0.03), [(0.2, 0.75, 0.05)]), abs=1e-12)
    assert fan[UNLISTED] == pytest.approx(0.5 * fan[NONE] + 1.0 / 6.0, abs=1e-12)


def test_prevalence_is_as_written_or_by_rate(model):
    """A share of vans stays what it is; a part with a library's rate grows rarer where no symptom shows it."""
    x = dict(zip(model.compiled.causes, model.prevalence(Vehicle()), strict=True))
    assert -np.expm1(-x["coolant/low"]) == pytest.approx(0.0008, abs=1e-15)
    thermostat = x["thermostat/stuck-shut"] + x["thermostat/opens-late"]
    assert -np.expm1(-thermostat) == pytest.approx(0.0005, abs=1e-15)
    # .15 of .02 faults a year, noticed within 14 days
    assert x["fan-switch/stays-open"] == pytest.approx(0.02 * 0.15 * 14.0 / 365.25, rel=1e-3)


def test_a_reading_is_refused(model):
    """A test of a table is answered with an outcome."""
    root = model.prior(Vehicle())
    for wrong in (ReadingFinding("level", 3.0), OutcomeFinding("level", "green")):
        with pytest.raises(RequestError, match="level"):
            model.evidence([wrong], root)


def test_nothing_stands_on_a_supply(model):
    """There is no supply in an answer, and findings share nothing."""
    request = {"circuit": "engine-runs-hot", "findings": [{"symptom": "hot-at-speed"}]}
    evidence = advisor.advise(model, request).evidence
    assert (evidence.supply_volts, evidence.supply_spread_volts, evidence.black_lead_astray) == (None, None, None)
    assert model.network(model.prior(Vehicle()), np.arange(20)).roots == ()
