"""Both at once: what a predicted value and an instrument make of an outcome or a reading.

y ~ (1 - slip) N(value, spread^2) + slip q(y): the second part is what a wrong cavity or a misread
gives, .35 near zero, .35 near supply, .30 anywhere in the meter's range.  A reading has the
probability of its display interval, value +- half the resolution: the same kind as a bin's.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr  # type: ignore[import-untyped]  # scipy ships no types

from advisor.knowledge.catalogue import Outcome, Test
from advisor.knowledge.documents import Instrument

Floats = NDArray[np.float64]

NEAR_ZERO, NEAR_SUPPLY, ANYWHERE = 0.35, 0.35, 0.30
"""Shares of a slip's outcome: judgement, no source."""
_CLOSE = 0.04
"""Width of "near", as a share of the supply or of full light: judgement, no source."""
DARK_BELOW, LIT_ABOVE = 0.03, 0.5
"""Share of normal light below which a lamp looks dark, above which it looks lit: common practice, no source."""
STOPPED_BELOW, FULL_ABOVE = 0.1, 0.75
"""Share of rated speed below which a motor stands still or crawls, above which it sounds as fast as it should:
common practice, no source."""
_FLOATING_VOLTS = 0.5
"""A wire that hangs in the air wanders by about this much on a meter [V]: common practice, no source."""
_TOLERANCE_VOLTS = 0.01
"""Contacts and wires differ a little from their tables [V]: common practice, no source."""


def meter_volts(open_volts: Floats, source_ohms: Floats, meter: Instrument) -> tuple[Floats, Floats]:
    """What the voltmeter shows and its spread [V], any shape: divider with the meter, then its own error.

    The gain error is a bound, so a uniform one over it has that bound over root three as its spread; the
    supply's own spread scales with the voltage.
    """
    ohms = meter.ohms or np.inf
    shown = open_volts * ohms / (ohms + source_ohms)
    counts = meter.counts_error * (meter.resolution or 0.0) / np.sqrt(3.0)
    gain = np.abs(shown) * np.hypot(meter.gain_error / np.sqrt(3.0), meter.supply_spread)
    floating = _FLOATING_VOLTS * source_ohms / (ohms + source_ohms)
    return shown, np.sqrt(counts**2 + gain**2 + floating**2 + _TOLERANCE_VOLTS**2)


def eye_light(light: Floats, eye: Instrument) -> tuple[Floats, Floats]:
    """What eye or ear makes of a lamp's light or a motor's speed (share of normal) and its spread, any shape."""
    return light, np.hypot(eye.gain_error * light, 0.01)


def interval(value: Floats, spread: Floats, low: float, high: float) -> Floats:
    """P(low <= y < high) for y ~ N(value, spread^2), elementwise; accurate in both tails."""
    above, below = (low - value) / spread, (high - value) / spread
    flip = above > 0.0  # far above the mean, subtract the small tails instead of two numbers near one
    mass: Floats = np.where(flip, ndtr(-above) - ndtr(-below), ndtr(below) - ndtr(above))
    return mass


def stray(low: float, high: float, full: float, span: float) -> float:
    """P(low <= y < high) under q: near zero, near `full` (supply or full light), or anywhere in +-`span`."""
    near = [float(interval(np.array(c), np.array(_CLOSE * full), low, high)) for c in (0.0, full)]
    inside = max(min(high, span) - max(low, -span), 0.0) / (2.0 * span)
    return NEAR_ZERO * near[0] + NEAR_SUPPLY * near[1] + ANYWHERE * inside


def bins(value: Floats, spread: Floats, outcomes: Sequence[Outcome], instrument: Instrument, full: float) -> Floats:
    """P(outcome) of one test, shape (..., outcomes)."""
    columns = [reading(value, spread, (o.low, o.high), instrument, full) for o in outcomes]
    return np.stack(columns, axis=-1)


def chances(value: Floats, spread: Floats, test: Test, instrument: Instrument, full: float) -> Floats:
    """P(outcome) of any test, shape (..., outcomes); what an inspection predicts is already a chance."""
    if test.kind == "inspect":
        return np.stack([value, 1.0 - value], axis=-1)
    return bins(value, spread, test.outcomes, instrument, full)


def reading(value: Floats, spread: Floats, cell: tuple[float, float], instrument: Instrument, full: float) -> Floats:
    """P(cell[0] <= y < cell[1]), slips included, elementwise."""
    span = instrument.range or 1.5 * full
    bell = interval(value, spread, *_whole(cell, span))
    return (1.0 - instrument.slip) * bell + instrument.slip * stray(*_whole(cell, span), full, span)


def unlisted(sound: Floats, cell_stray: Floats) -> Floats:
    """f(y | unlisted) = half of what the sound circuit shows, half of anything."""
    return 0.5 * sound + 0.5 * cell_stray


def _whole(cell: tuple[float, float], span: float) -> tuple[float, float]:
    """A cell that ends at the meter's range takes what lies beyond it too."""
    low, high = cell
    return (-np.inf if low <= -span else low), (np.inf if high >= span else high)


def display_cell(value: float | None, instrument: Instrument) -> tuple[float, float]:
    """The interval that one displayed value stands for; None is over range."""
    if value is None:
        return (instrument.range or np.inf), np.inf
    half = (instrument.resolution or 0.0) / 2.0
    return value - half, value + half


def _ranges(*rows: tuple[str, str, float]) -> tuple[Outcome, ...]:
    lows = [-np.inf, *(row[2] for row in rows[:-1])]
    return tuple(Outcome(id, label, low, high) for (id, label, high), low in zip(rows, lows, strict=True))


LOOKS = _ranges(("dark", "dark", DARK_BELOW), ("dim", "dim", LIT_ABOVE), ("lit", "lit", np.inf))
"""What an eye says of a lamp, by its share of normal light."""
RUNS = _ranges(("stopped", "stopped", STOPPED_BELOW), ("slow", "slow", FULL_ABOVE), ("full", "full speed", np.inf))
"""What an ear says of a motor, by its share of rated speed."""


DAMAGE = (Outcome("damage", "damage seen", 0.0, np.inf), Outcome("sound", "nothing seen", -np.inf, 0.0))
"""What a visual check ends with."""


def outcomes_for(test: Test, normal: float, limits: dict[str, float], supply_volts: float) -> tuple[Outcome, ...]:
    """The few named ranges of a test, from its normal value and the drop limits [V]."""
    if test.kind == "inspect":
        return DAMAGE
    if test.unit == "":
        return RUNS if test.observed.motor else LOOKS
    full = supply_volts - 1.0
    if normal < 1.0:
        good = max(_limit(test, limits), normal + 0.1)
        if test.kind == "drop":
            return _ranges(
                ("good", f"good, below {good:.1f} V", good),
                ("lossy", f"loses voltage, {good:.1f} to {full:.1f} V", full),
                ("open", f"nearly all of the supply, {full:.1f} V or more", np.inf),
            )
        good = max(good, normal + 0.3)
        return _ranges(
            ("normal", f"as it should be, below {good:.1f} V", good),
            ("raised", f"raised, {good:.1f} to {full:.1f} V", full),
            ("full", f"full supply, {full:.1f} V or more", np.inf),
        )
    margin = max(0.6, 0.06 * normal)
    below = (
        ("none", "nearly nothing, below 0.5 V", 0.5),
        ("low", f"low, 0.5 to {normal - margin:.1f} V", normal - margin),
    )
    if normal > full:  # nothing in the vehicle is above the supply
        return _ranges(*below, ("normal", f"as it should be, {normal - margin:.1f} V or more", np.inf))
    as_it_should = f"as it should be, {normal - margin:.1f} to {normal + margin:.1f} V"
    return _ranges(
        *below, ("normal", as_it_should, normal + margin), ("high", f"high, {normal + margin:.1f} V or more", np.inf)
    )


def _limit(test: Test, limits: dict[str, float]) -> float:
    if test.id.startswith("drop.feed-"):
        return limits["feed_volts"]
    return limits["ground_volts"] if test.kind == "volts" else limits["switch_volts"]
