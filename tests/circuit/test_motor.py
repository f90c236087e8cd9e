"""The fan motor's law, and motors in circuits worked by hand: 250 W at 12.5 V, winding 0.11 ohm, back-EMF 10.3 V."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from networks import GROUND, battery, netlist, resistor

from advisor.circuit import motor
from advisor.circuit.netlist import OPEN, Change, Netlist, motor_elements
from advisor.circuit.solve import solve

PROPERTY = settings(max_examples=100, deadline=None, derandomize=True)
VOLTS = st.floats(-30, 30)
RATED = st.sampled_from([6.0, 10.3, 24.0])
OHMS = st.floats(0.05, 50)


def amps(volts: float, rated: float, ohms: float) -> float:
    """Current at one back-EMF [A]."""
    return float(motor.current(np.array([volts]), np.array([rated]), np.array([ohms]))[0])


def fan(volts: float) -> Netlist:
    """The motor on an ideal supply; a path round the part that turns stands for a locked rotor, open until set."""
    locked = resistor("locked", "M/inner", GROUND, OPEN)
    winding, rotor = motor_elements("M", "plus", GROUND, watts=250, volts=12.5, winding_ohms=0.11)
    return netlist(battery(volts), winding, rotor, locked)


@PROPERTY
@given(VOLTS, VOLTS, RATED, OHMS)
def test_more_force_takes_more_current_either_way(one, other, rated, ohms):
    """The current is odd and rises with the back-EMF, so a circuit has one operating point."""
    low, high = sorted((one, other))
    assert amps(low, rated, ohms) <= amps(high, rated, ohms)
    assert amps(-one, rated, ohms) == -amps(one, rated, ohms)


@PROPERTY
@given(VOLTS, RATED, OHMS)
def test_the_slope_is_the_derivative(volts, rated, ohms):
    """The slope agrees with a central difference, also at a standstill, where the law has its corner in curvature."""
    step = 1e-5 * rated
    difference = (amps(volts + step, rated, ohms) - amps(volts - step, rated, ohms)) / (2 * step)
    found = float(motor.slope(np.array([volts]), np.array([rated]), np.array([ohms]))[0])
    assert found == pytest.approx(difference, rel=1e-3)


def test_at_rated_voltage_it_takes_rated_current():
    """250 W at 12.5 V are 20 A, at rated speed."""
    solution = solve(fan(12.5), [[]])
    assert solution.currents[0, 1] == pytest.approx(20.0, abs=1e-3)
    assert solution.shown("M", 12.5)[0] == pytest.approx(1.0, abs=1e-4)


def test_at_half_speed():
    """Half speed asks for 0.1 x 0.5 + 0.9 x 0.25 = 0.275 of 20 A, 5.5 A; 0.605 V + 5.15 V drive it."""
    solution = solve(fan(5.755), [[]])
    assert solution.currents[0, 1] == pytest.approx(5.5, abs=1e-3)
    assert solution.shown("M", 12.5)[0] == pytest.approx(0.5, abs=1e-4)


def test_seized_it_takes_its_stall_current():
    """A locked rotor leaves the winding: 12.5 V / 0.111 ohm is 112.6 A, 5.6 times the running current."""
    solution = solve(fan(12.5), [[Change(3, "set", 0.001)]])
    assert solution.currents[0, 1] == pytest.approx(112.6, abs=0.1)
    assert solution.shown("M", 12.5)[0] < 0.02


def test_dragging_it_takes_half_as_much_again():
    """1.8 times the torque: 3.564 u^2 + 10.696 u = 12.5 gives u = 0.899 and 36 (0.0899 + 0.7275) = 29.4 A."""
    solution = solve(fan(12.5), [[Change(2, "scale", 1 / 1.8)]])
    assert solution.shown("M", 12.5)[0] == pytest.approx(0.899, abs=1e-3)
    assert solution.currents[0, 1] == pytest.approx(29.43, abs=0.02)


def test_behind_a_resistor():
    """At 12.4 V behind 0.7 ohm: 0.81 x 20 (0.1 u + 0.9 u^2) + 10.3 u = 12.4, so u = 0.600 and 7.68 A."""
    winding, rotor = motor_elements("M", "m", GROUND, watts=250, volts=12.5, winding_ohms=0.11)
    solution = solve(netlist(battery(12.4), resistor("R", "plus", "m", 0.7), winding, rotor), [[]])
    assert solution.shown("M", 12.5)[0] == pytest.approx(0.600, abs=1e-3)
    assert solution.currents[0, 1] == pytest.approx(7.68, abs=0.01)


def test_an_open_winding_stops_it():
    """A dead spot takes no current."""
    solution = solve(fan(12.5), [[Change(1, "set", OPEN)]])
    assert solution.currents[0, 1] == 0.0
    assert solution.shown("M", 12.5)[0] == pytest.approx(0.0, abs=1e-6)


def test_the_winding_leaves_a_force():
    """20 A through 0.11 ohm leave 10.3 V of 12.5 V to turn with."""
    assert motor.rated_force(250, 12.5, 0.11) == pytest.approx(10.3)
