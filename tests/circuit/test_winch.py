"""A motor that pulls against a steady torque: 72 W at 12 V, winding 0.48 ohm, back-EMF 9.12 V at 6 A."""

from __future__ import annotations

import numpy as np
import pytest
from networks import GROUND, battery, netlist, resistor

from advisor.circuit import motor
from advisor.circuit.netlist import OPEN, Change, lamp_element, motor_elements
from advisor.circuit.solve import solve

RATED = {"watts": 72, "volts": 12.0, "winding_ohms": 0.48, "kind": "winch"}
FRICTION, CRAWL = 0.1, 0.05


def pulled(volts, *more, a="plus"):
    """The motor on an ideal supply; a path round the part that turns stands for a locked rotor, open until set."""
    winding, rotor = motor_elements("M", a, GROUND, **RATED)
    return netlist(battery(volts), winding, rotor, resistor("locked", "M/inner", GROUND, OPEN), *more)


def bisected(volts, ohms, torque=1.0):
    """The current by halving intervals of the back-EMF, from the law as its docstring states it."""
    low, high = 0.0, volts
    for _ in range(200):
        force = (low + high) / 2.0
        u = force / 9.12
        amps = torque * 6.0 * ((1 - FRICTION) * u * ((1 + CRAWL**2) / (u * u + CRAWL**2)) ** 0.5 + FRICTION * u)
        low, high = (force, high) if force + amps * ohms < volts else (low, force)
    return (volts - force) / ohms


def test_at_rated_voltage_it_takes_rated_current():
    """72 W at 12 V are 6 A, at rated speed."""
    solution = solve(pulled(12.0), [[]])
    assert solution.currents[0, 1] == pytest.approx(6.0, abs=1e-3)
    assert solution.shown("M", 12.0)[0] == pytest.approx(1.0, abs=1e-4)


def test_at_lower_voltage_it_takes_nearly_the_same_current():
    """At 8 V: 0.9 of the torque stays, so 5.8 A leave 8 - 2.8 = 5.2 V, u = .57, and 6 (0.9 + 0.057) is 5.74 A."""
    assert solve(pulled(8.0), [[]]).currents[0, 1] == pytest.approx(5.74, abs=0.03)


def test_what_cannot_get_its_torque_stands_still():
    """Through 4 ohm 6 A would want 27 V: all of 12 V falls across the resistance, 2.7 A, and it crawls below .05."""
    found = solve(pulled(12.0, resistor("R", "plus", "m", 4.0), a="m"), [[]])
    assert found.currents[0, 1] == pytest.approx(12.0 / 4.48, rel=0.05)
    assert found.shown("M", 12.0)[0] < CRAWL


@pytest.mark.parametrize("ohms", [1e-3, 0.02, 0.1, 0.48, 0.9, 1.0, 1.2, 1.5, 2.0, 4.0, 30.0, 1e3, 1e5])
@pytest.mark.parametrize("volts", [0.5, 3.0, 6.0, 9.0, 12.6, 16.0])
@pytest.mark.parametrize("torque", [0.5, 1.0, 2.0])
def test_any_supply_is_settled(ohms, volts, torque):
    """Behind any resistance the operating point is the one that halving intervals finds, either way round."""
    circuit = pulled(volts, resistor("R", "plus", "m", ohms), a="m")
    rotor = circuit.element_index["M/rotor"]
    found = solve(circuit, [[Change(rotor, "scale", 1.0 / torque)]]).currents[0, 1]
    assert found == pytest.approx(bisected(volts, 0.48 + ohms, torque), abs=1e-4)


def test_it_settles_beside_lamps():
    """A weak supply, a long wire, a lamp before and a lamp beside it: current in is current out at every node."""
    lamps = [lamp_element(f"L{i}", *ends, watts=21, volts=12) for i, ends in enumerate((("m", GROUND), ("plus", "m")))]
    winding, rotor = motor_elements("M", "m", GROUND, **RATED)
    found = solve(netlist(battery(12.6, ohms=0.5), winding, rotor, *lamps, resistor("R", "plus", "m", 1.1)), [[]])
    at = [e.id for e in found.netlist.elements].index
    i = found.currents[0]
    assert i[at("R")] + i[at("L1")] == pytest.approx(i[at("M")] + i[at("L0")], abs=1e-8)


def test_slope_is_the_derivative():
    """The slope agrees with a central difference, also at a standstill."""
    volts, step = np.linspace(-12.0, 12.0, 97), 1e-6
    rated, ohms = np.full_like(volts, 9.12), np.full_like(volts, 1.52)

    def amps(at):
        return at * motor.pulling_siemens(at, rated, ohms)[0]

    slope = motor.pulling_siemens(volts, rated, ohms)[1]
    assert np.allclose((amps(volts + step) - amps(volts - step)) / (2 * step), slope, rtol=1e-5)
    assert (slope > 0.0).all()
