"""The tungsten lamp: current, slope and light against voltage.

R ~ V^0.45 above the cold floor, one twelfth of the hot resistance.  The exponent follows from
current ~ V^0.55, light ~ V^3.4 (Fink and Beaty, Standard Handbook for Electrical Engineers, 11th ed.,
lamp rerating exponents); the floor is common practice (published cold ratios run from 1/10 to 1/15).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CURRENT_EXPONENT = 0.55
COLD_RATIO = 12.0
LIGHT_EXPONENT = 3.4
FLOOR = COLD_RATIO ** (-1.0 / (1.0 - CURRENT_EXPONENT))
"""Voltage over rated voltage below which the filament counts as cold."""


def rated_ohms(watts: float, volts: float) -> float:
    """Return the hot resistance at rated voltage [ohm] of a lamp of `watts` [W] at `volts` [V]."""
    return volts * volts / watts


def siemens(volts: Floats, rated_volts: Floats, hot_ohms: Floats) -> tuple[Floats, Floats]:
    """Current over voltage, and the current's derivative [S] at `volts` [V]; all arrays broadcast together."""
    ratio = np.abs(volts) / rated_volts
    chord = np.maximum(ratio, FLOOR) ** (CURRENT_EXPONENT - 1.0) / hot_ohms
    return chord, np.where(ratio < FLOOR, chord, CURRENT_EXPONENT * chord)


def current(volts: Floats, rated_volts: Floats, hot_ohms: Floats) -> Floats:
    """Lamp current [A] at `volts` [V], odd in the voltage; all arrays broadcast together."""
    return volts * siemens(volts, rated_volts, hot_ohms)[0]


def slope(volts: Floats, rated_volts: Floats, hot_ohms: Floats) -> Floats:
    """Return the derivative of `current` [S]."""
    return siemens(volts, rated_volts, hot_ohms)[1]


def light(power_watts: Floats, reference_watts: Floats) -> Floats:
    """Light as a share of that at `reference_watts`: light ~ V^3.4 and power ~ V^1.55."""
    return (np.maximum(power_watts, 0.0) / reference_watts) ** (LIGHT_EXPONENT / (1.0 + CURRENT_EXPONENT))
