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


def current(volts: Floats, rated_volts: Floats, hot_ohms: Floats) -> Floats:
    """Lamp current [A] at `volts` [V], odd in the voltage; all arrays broadcast together."""
    ratio = np.abs(volts) / rated_volts
    hot = np.sign(volts) * rated_volts / hot_ohms * np.maximum(ratio, FLOOR) ** CURRENT_EXPONENT
    return np.where(ratio < FLOOR, volts * COLD_RATIO / hot_ohms, hot)


def slope(volts: Floats, rated_volts: Floats, hot_ohms: Floats) -> Floats:
    """Return the derivative of `current` [S]."""
    ratio = np.maximum(np.abs(volts) / rated_volts, FLOOR)
    hot = CURRENT_EXPONENT / hot_ohms * ratio ** (CURRENT_EXPONENT - 1.0)
    return np.where(np.abs(volts) / rated_volts < FLOOR, COLD_RATIO / hot_ohms, hot)


def light(power_watts: Floats, reference_watts: Floats) -> Floats:
    """Light as a share of that at `reference_watts`: light ~ V^3.4 and power ~ V^1.55."""
    return (np.maximum(power_watts, 0.0) / reference_watts) ** (LIGHT_EXPONENT / (1.0 + CURRENT_EXPONENT))
