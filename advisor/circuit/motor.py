"""A permanent-magnet motor that drives a fan, at a steady speed: current, slope and speed against its back-EMF.

Back-EMF ~ speed and torque ~ current (any text on permanent-magnet machines); a fan asks for a torque ~ speed^2
(the fan laws), friction and iron for one ~ speed.  So behind the winding's resistance, an element of its own,
i(e) = i_rated ((1 - f) u |u| + f u) with u = e / e_rated: no speed need be solved for, u is the speed.
f is common practice, no source.  What is left out: brush drop, and the starting torque below which a real motor
stands still (`advisor.knowledge.readings` calls a crawling one stopped); the winding's time constants have passed.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FRICTION_SHARE = 0.1
"""Share of friction and iron in the torque at rated speed."""


def rated_force(watts: float, volts: float, winding_ohms: float) -> float:
    """Back-EMF [V] of a motor that takes `watts` [W] at `volts` [V]; not positive for an impossible winding."""
    return volts - winding_ohms * watts / volts


def siemens(volts: Floats, rated_volts: Floats, rated_ohms: Floats) -> tuple[Floats, Floats]:
    """Current over back-EMF, and the current's derivative [S], at a back-EMF of `volts` [V]."""
    moving = (1.0 - FRICTION_SHARE) * np.abs(volts) / rated_volts
    return (FRICTION_SHARE + moving) / rated_ohms, (FRICTION_SHARE + 2.0 * moving) / rated_ohms


def current(volts: Floats, rated_volts: Floats, rated_ohms: Floats) -> Floats:
    """Current [A] at a back-EMF of `volts` [V], odd in it; `rated_ohms` is rated back-EMF over rated current."""
    return volts * siemens(volts, rated_volts, rated_ohms)[0]


def slope(volts: Floats, rated_volts: Floats, rated_ohms: Floats) -> Floats:
    """Return the derivative of `current` [S]."""
    return siemens(volts, rated_volts, rated_ohms)[1]
