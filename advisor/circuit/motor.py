"""A permanent-magnet motor at a steady speed, driving a fan or pulling: current and slope against its back-EMF.

Back-EMF ~ speed and torque ~ current (any text on permanent-magnet machines); a fan asks for a torque ~ speed^2
(the fan laws), friction and iron for one ~ speed.  So behind the winding's resistance, an element of its own,
i(e) = i_rated ((1 - f) u |u| + f u) with u = e / e_rated: no speed need be solved for, u is the speed.
f is common practice, no source.  What is left out: brush drop, and the starting torque below which a real motor
stands still (`advisor.knowledge.readings` calls a crawling one stopped); the winding's time constants have passed.

A window or a starter pulls against a torque that is nearly the same at any speed: i(e) = i_rated ((1 - f) s(u) + f u)
with s(u) = u sqrt((1 + d^2) / (u^2 + d^2)), which is 1 at rated speed and goes through zero within d of standing still.
So current rises with back-EMF there too, a motor that cannot get its torque crawls below d, which counts as stopped,
and is stalled with nearly all of its supply across the winding.  A series-wound starter's field is taken as constant.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FRICTION_SHARE = 0.1
"""Share of friction and iron in the torque at rated speed."""

CRAWL = 0.05
"""Share of rated speed within which a steady torque comes up from nothing: judgement, no source."""


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


def pulling_siemens(volts: Floats, rated_volts: Floats, rated_ohms: Floats) -> tuple[Floats, Floats]:
    """The same as `siemens` of a motor that pulls against a steady torque [S]."""
    steady, spread = (1.0 - FRICTION_SHARE) * np.sqrt(1.0 + CRAWL**2), (volts / rated_volts) ** 2 + CRAWL**2
    chord = FRICTION_SHARE + steady / np.sqrt(spread)
    return chord / rated_ohms, (FRICTION_SHARE + steady * CRAWL**2 / spread**1.5) / rated_ohms
