"""The tungsten lamp's law: continuous, odd, rising, cold floor, and its derivative."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.circuit import lamp

PROPERTY = settings(max_examples=100, deadline=None, derandomize=True)
VOLTS = st.floats(-30, 30)
RATED = st.sampled_from([6.0, 12.0, 13.5, 24.0])
OHMS = st.floats(0.5, 500)


def amps(volts: float, rated: float, ohms: float) -> float:
    """Current of one lamp at one voltage [A]."""
    return float(lamp.current(np.array([volts]), np.array([rated]), np.array([ohms]))[0])


@PROPERTY
@given(RATED, OHMS)
def test_at_its_rated_voltage_it_is_its_hot_resistance(rated, ohms):
    """Rated voltage drives rated current."""
    assert amps(rated, rated, ohms) == pytest.approx(rated / ohms)


@PROPERTY
@given(VOLTS, RATED, OHMS)
def test_it_is_odd(volts, rated, ohms):
    """A filament has no polarity."""
    assert amps(-volts, rated, ohms) == -amps(volts, rated, ohms)


@PROPERTY
@given(VOLTS, VOLTS, RATED, OHMS)
def test_more_voltage_drives_more_current(one, other, rated, ohms):
    """The current rises strictly with the voltage, so every circuit of lamps has one operating point."""
    low, high = sorted((one, other))
    assert amps(low, rated, ohms) <= amps(high, rated, ohms)
    if high - low > 1e-6:
        assert amps(low, rated, ohms) < amps(high, rated, ohms)


@PROPERTY
@given(RATED, OHMS)
def test_the_cold_floor_joins_without_a_step(rated, ohms):
    """On both sides of the floor the current is the same; below it, the resistance is a twelfth of the hot one."""
    edge = rated * lamp.FLOOR
    assert amps(edge * (1 - 1e-9), rated, ohms) == pytest.approx(amps(edge * (1 + 1e-9), rated, ohms), rel=1e-6)
    assert amps(edge / 2, rated, ohms) == pytest.approx(edge / 2 * 12 / ohms)


@PROPERTY
@given(st.floats(-2, 2), RATED, OHMS)
def test_the_slope_is_the_derivative(share, rated, ohms):
    """The slope agrees with a central difference, away from the floor's corner."""
    volts = share * rated
    step = 1e-6 * rated
    if abs(abs(share) - lamp.FLOOR) > 2e-6:
        difference = (amps(volts + step, rated, ohms) - amps(volts - step, rated, ohms)) / (2 * step)
        found = float(lamp.slope(np.array([volts]), np.array([rated]), np.array([ohms]))[0])
        assert found == pytest.approx(difference, rel=1e-4)


def test_light_is_a_share():
    """No power gives no light, reference power gives all, and negative power, which is rounding, gives none."""
    found = lamp.light(np.array([0.0, 21.0, -1e-12]), np.array([21.0]))
    assert found.tolist() == [0.0, 1.0, 0.0]


def test_an_open_filament_draws_nothing():
    """Infinite resistance gives zero current and slope, without a warning."""
    assert amps(12.0, 12.0, np.inf) == 0.0
    assert amps(0.001, 12.0, np.inf) == 0.0
    assert lamp.slope(np.array([12.0]), np.array([12.0]), np.array([np.inf])).tolist() == [0.0]
