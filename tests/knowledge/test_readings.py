"""What a predicted value and an instrument make of a reading."""

import numpy as np
import pytest
from scipy.stats import norm

from advisor.knowledge.catalogue import Outcome
from advisor.knowledge.library import Instrument
from advisor.knowledge.readings import LOOKS, bins, display_cell, interval, meter_volts, strayed, unlisted

METER = Instrument(
    "voltmeter",
    0.04,
    2,
    "test",
    ohms=10e6,
    gain_error=0.005,
    counts_error=2,
    resolution=0.01,
    supply_spread=0.02,
    range=20.0,
)


@pytest.mark.parametrize(("low", "high"), [(-1.0, 0.5), (8.0, 9.0), (-9.0, -8.0), (-np.inf, 0.0), (3.0, np.inf)])
def test_interval_is_the_normal_distributions(low, high):
    """Far tails keep their digits; the reference is scipy's survival and distribution functions."""
    expected = norm.sf(low) - norm.sf(high) if low > 0 else norm.cdf(high) - norm.cdf(low)
    assert float(interval(np.array(0.0), np.array(1.0), low, high)) == pytest.approx(expected, rel=1e-12)


def test_outcomes_cover_everything():
    """The outcomes of a test hold all probability, slips included, whatever is predicted."""
    outcomes = [Outcome("a", "a", -np.inf, 0.5), Outcome("b", "b", 0.5, 11.0), Outcome("c", "c", 11.0, np.inf)]
    values = np.linspace(-15.0, 15.0, 61)
    p = bins(values, np.full(61, 0.2), outcomes, METER, 12.6)
    assert p.sum(axis=-1) == pytest.approx(1.0, abs=1e-12)
    assert (p > 0.0).all()
    assert bins(np.array(1.0), np.array(0.1), LOOKS, METER, 1.0).sum() == pytest.approx(1.0, abs=1e-12)


def test_a_slip_leaves_its_share_elsewhere():
    """Far from the prediction only the slip's share is left: 0.04 x (0.35 near zero + 0.30 x 1 V / 40 V)."""
    p = bins(np.array(12.0), np.array(0.05), [Outcome("zero", "", -0.5, 0.5)], METER, 12.6)
    near = norm.cdf(0.5 / (0.04 * 12.6)) - norm.cdf(-0.5 / (0.04 * 12.6))
    assert float(p[0]) == pytest.approx(0.04 * (0.35 * near + 0.30 * 1.0 / 40.0), rel=1e-9)


def test_stray_values_are_anywhere():
    """What a slip shows has probability one over the whole line."""
    assert strayed((-np.inf, np.inf), METER, 12.6) == pytest.approx(1.0)


def test_display_cell_is_one_count_wide():
    """11.80 V on the display is anything from 11.795 to 11.805 V; over range is all beyond the range."""
    assert display_cell(11.8, METER) == pytest.approx((11.795, 11.805))
    assert display_cell(None, METER) == (20.0, np.inf)


def test_the_meter_loads_what_it_measures():
    """1 Mohm before a 10 Mohm meter leaves ten elevenths of 12.6 V (common practice, worked by hand: 11.45 V)."""
    shown, spread = meter_volts(np.array([12.6]), np.array([1e6]), METER, 12.6)
    assert shown[0] == pytest.approx(11.4545, abs=1e-3)
    assert spread[0] > meter_volts(np.array([11.4545]), np.array([0.0]), METER, 12.6)[1][0]


def test_what_parts_differ_by_spreads_a_divided_voltage():
    """Wires drawn within a fifth of 0.6 ohm before lamps within a twentieth of 6 ohm, at 12.6 V; none at a rail."""
    rng = np.random.default_rng(5)
    wire, lamp = 0.6 * rng.uniform(0.8, 1.2, 20_000), 6.0 * rng.uniform(0.95, 1.05, 20_000)
    _, spread = meter_volts(np.array([12.6 * 6.0 / 6.6, 12.6, 0.0]), np.zeros(3), METER, 12.6)
    assert spread[0] == pytest.approx(float((12.6 * lamp / (wire + lamp)).std()), rel=0.25)
    assert spread[1] == spread[2] < 0.02


def test_unlisted_is_half_sound_half_anything():
    """The density of an unlisted fault is the mean of the two."""
    assert unlisted(np.array([0.9, 0.1]), np.array([0.2, 0.8])) == pytest.approx([0.55, 0.45])
