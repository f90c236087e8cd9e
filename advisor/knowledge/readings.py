"""Both at once: what a predicted value and an instrument make of an outcome or a reading.

y ~ (1 - slip) N(value, spread^2) + slip q(y): the second part is what a wrong cavity or a misread
gives, .35 near zero, .35 near supply, .30 anywhere in the meter's range.  A reading has the
probability of its display interval, value +- half the resolution: the same kind as a bin's.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr  # type: ignore[import-untyped]  # scipy ships no types

from advisor.knowledge.catalogue import Outcome, Test
from advisor.knowledge.library import Instrument

Floats = NDArray[np.float64]

NEAR_ZERO, NEAR_SUPPLY, ANYWHERE = 0.35, 0.35, 0.30
"""Shares of a slip's outcome: judgement, no source."""
_CLOSE = 0.04
"""Width of "near", as a share of the supply or of full light: judgement, no source."""
OPEN_OHMS = 1e6
"""Resistance from which a path counts as open: common practice, no source."""
LITTLE_AMPS = 0.05
"""Current that a parked vehicle may take: 50 mA, common practice, no source."""
DARK_BELOW, LIT_ABOVE = 0.03, 0.5
"""Share of normal light below which a lamp looks dark, above which it looks lit: common practice, no source."""
STOPPED_BELOW, FULL_ABOVE = 0.1, 0.75
"""Share of rated speed below which a motor stands still or crawls, above which it sounds as fast as it should:
common practice, no source."""
_FLOATING_VOLTS = 0.5
"""A wire that hangs in the air wanders by about this much on a meter [V]: common practice, no source."""
WANDERING = ("V", "A")
"""Units of readings that may jump about."""
_VISIBLE = 0.025
"""Wandering that a person notices, as a share of full supply or the usual current: judgement, no source."""
STRAY_JUMPS, UNLISTED_JUMPS = 0.02, 0.1
"""Chance that a reading jumps about at a wrong place, and with a fault that is not listed: judgement, no source."""
LIVE_VOLTS = 0.05
"""Above this a section counts as live for an ohmmeter, which measures with tenths of a volt: judgement, no source."""
_NONSENSE_DECADES = 3.0
"""Spread of the ohms range on a live wire [decades]: judgement, no source."""
_OHMS_DECADES = 0.05
"""Parts differ a little from their tables, cold filaments most [decades]: common practice, no source."""
_LEADS_SPREAD_OHMS = 0.1
"""Leads of 0.2 to 0.5 ohm: the same maker's note as the library's; half the range over root three."""
_LEADS_DECADES = 0.15
"""The same around the leads alone [decades]."""
_LEAST_OHMS = 1e-3
"""What counts as zero where a logarithm is taken [ohm]."""
_COUNTS = 2000.0
"""Counts of an ohmmeter's range: common practice, no source."""
_CURRENT_SPREAD = 0.05
"""Lamps, motors and the supply differ from their ratings by about this share: common practice, no source."""
_TOLERANCE_VOLTS = 0.01
"""Contacts and wires differ a little from their tables [V]: common practice, no source."""
_PARTS_SHARE = 0.1
"""What stands before a probe and behind it differs from its table by about this share, wires and contacts within a
fifth, lamps and coils within a twentieth: common practice, no source."""


def meter_volts(
    open_volts: Floats, source_ohms: Floats, meter: Instrument, supply_volts: float
) -> tuple[Floats, Floats]:
    """What the voltmeter shows and its spread [V], any shape: divider with the meter, then its own error.

    Its gain error and the supply's spread are the same for all readings of a case, so they are not in it.  What stands
    before and behind the probe divides the supply V: v = V R2 / (R1 + R2), so dv = v (V - v) / V (dln R2 - dln R1).
    """
    ohms = meter.ohms or np.inf
    shown = open_volts * ohms / (ohms + source_ohms)
    counts = meter.counts_error * (meter.resolution or 0.0) / np.sqrt(3.0)
    floating = floating_volts(source_ohms, meter)
    divided = _PARTS_SHARE * np.abs(shown) * np.maximum(supply_volts - np.abs(shown), 0.0) / supply_volts
    return shown, np.sqrt(counts**2 + floating**2 + divided**2 + _TOLERANCE_VOLTS**2)


def wanders(wander: Floats, unit: str, full: float) -> Floats:
    """Chance that a person calls a reading of this wandering unsteady, any shape; looks and ohms are not asked so."""
    if unit not in WANDERING:
        return np.zeros_like(wander)
    chance: Floats = 2.0 * ndtr(-_VISIBLE * full / np.maximum(wander, 1e-6))
    return chance


def floating_volts(source_ohms: Floats, meter: Instrument) -> Floats:
    """By how much a wire that hangs in the air wanders on a voltmeter [V], any shape."""
    wander: Floats = _FLOATING_VOLTS * source_ohms / ((meter.ohms or np.inf) + source_ohms)
    return wander


def floating(meter: Instrument, full: float) -> Floats:
    """Value, spread and chance of jumping about where a probe touches nothing, in a meter's own unit, shape (3,)."""
    if meter.logarithmic:
        return np.array([np.log10(10.0 * (meter.range or np.inf)), _OHMS_DECADES, 0.0])
    wander = np.array(_FLOATING_VOLTS)
    counts = meter.counts_error * (meter.resolution or 0.0) / np.sqrt(3.0)
    return np.array([0.0, float(np.hypot(wander, counts)), float(wanders(wander, "V", full))])


def meter_ohms(volts: Floats, ohms: Floats, meter: Instrument) -> tuple[Floats, Floats]:
    """What the ohmmeter shows and its spread, both in decades, any shape: leads included.

    Where a voltage is left between the probes the meter shows nonsense: the value says nothing then.
    """
    shown = np.minimum(ohms + meter.leads_ohms, 10.0 * (meter.range or np.inf))  # beyond it all is over range
    count = np.where(shown > _COUNTS, shown / _COUNTS, meter.resolution or 0.0)
    error = np.sqrt((meter.gain_error * shown) ** 2 + (meter.counts_error * count) ** 2) / np.sqrt(3.0)
    spread = np.hypot(error, _LEADS_SPREAD_OHMS) / shown / np.log(10.0)
    live = np.abs(volts) > LIVE_VOLTS
    return np.log10(shown), np.where(live, _NONSENSE_DECADES, np.hypot(spread, _OHMS_DECADES))


def meter_amps(amps: Floats, clamp: Instrument) -> tuple[Floats, Floats]:
    """What a clamp, an ammeter or a fuse's drop shows and its spread [A], any shape; put so as to read positive."""
    shown = np.abs(amps)
    bound = np.hypot(clamp.gain_error * shown, clamp.counts_error * (clamp.resolution or 0.0))
    return shown, np.hypot(bound / np.sqrt(3.0), _CURRENT_SPREAD * shown)


def eye_light(light: Floats, eye: Instrument) -> tuple[Floats, Floats]:
    """What eye or ear makes of a lamp's light or a motor's speed (share of normal) and its spread, any shape."""
    return light, np.hypot(eye.gain_error * light, 0.01)


def interval(value: Floats, spread: Floats, low: float, high: float) -> Floats:
    """P(low <= y < high) for y ~ N(value, spread^2), elementwise; accurate in both tails."""
    side = np.where(low > value, -1.0, 1.0)  # above the mean, subtract the small tails, not two numbers near one
    mass: Floats = np.abs(ndtr(side * (high - value) / spread) - ndtr(side * (low - value) / spread))
    return mass


@lru_cache(maxsize=4096)  # the cells of a model's tests are few, and are asked for with every reading
def strayed(cell: tuple[float, float], instrument: Instrument, full: float) -> float:
    """P(reading in cell) under q: near zero, near `full` (supply, full light; over range in ohms), or anywhere."""
    if instrument.logarithmic:
        return _strayed_ohms(cell, instrument)
    span = instrument.range or 1.5 * full
    low, high = _whole(cell, span)
    near = [float(interval(np.array(c), np.array(_CLOSE * full), low, high)) for c in (0.0, full)]
    inside = max(min(high, span) - max(low, -span), 0.0) / (2.0 * span)
    if not instrument.mistakable:
        return inside
    return NEAR_ZERO * near[0] + NEAR_SUPPLY * near[1] + ANYWHERE * inside


def _strayed_ohms(cell: tuple[float, float], instrument: Instrument) -> float:
    """The same for ohms: the leads alone, over range, or anywhere between, each decade alike."""
    low, high = _logs(cell)
    bottom, top = np.log10(instrument.leads_ohms), np.log10(instrument.range or np.inf)
    leads = float(interval(np.array(bottom), np.array(_LEADS_DECADES), low, high))
    inside = max(min(high, top) - max(low, bottom), 0.0) / (top - bottom)
    return float(NEAR_ZERO * leads + NEAR_SUPPLY * (low <= top < high) + ANYWHERE * inside)


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
    return (1.0 - instrument.slip) * within(value, spread, cell, instrument, full) + instrument.slip * strayed(
        cell, instrument, full
    )


def within(value: Floats, spread: Floats, cell: tuple[float, float], instrument: Instrument, full: float) -> Floats:
    """P(cell[0] <= y < cell[1]) where nobody slips, elementwise."""
    return interval(
        value, spread, *(_logs(cell) if instrument.logarithmic else _whole(cell, instrument.range or 1.5 * full))
    )


def sharpest(value: float | None, spread: float, instrument: Instrument) -> float:
    """The largest probability that any prediction of this spread could give a displayed value."""
    if value is None:
        return 1.0
    cell, middle = display_cell(value, instrument), max(value, _LEAST_OHMS)
    if instrument.logarithmic:
        return float(interval(np.log10(np.array(middle)), np.array(spread), *_logs(cell)))
    return float(interval(np.array(value), np.array(spread), *cell))


def unlisted(sound: Floats, cell_stray: Floats) -> Floats:
    """f(y | unlisted) = half of what the sound circuit shows, half of anything."""
    return 0.5 * sound + 0.5 * cell_stray


def _logs(cell: tuple[float, float]) -> tuple[float, float]:
    """A cell of ohms in decades; what is shown as zero or less takes all below it."""
    low, high = (float(np.log10(end)) if end > 0.0 else -np.inf for end in cell)
    return low, high


def _whole(cell: tuple[float, float], span: float) -> tuple[float, float]:
    """A cell that ends at the meter's range takes what lies beyond it too."""
    low, high = cell
    return (-np.inf if low <= -span else low), (np.inf if high >= span else high)


def display_cell(value: float | None, instrument: Instrument) -> tuple[float, float]:
    """The interval that one displayed value stands for; None is over range."""
    if value is None:
        return (instrument.range or np.inf), np.inf
    half = _count(value, instrument) / 2.0
    return value - half, value + half


def _count(value: float, instrument: Instrument) -> float:
    """Value of the last digit: an ohmmeter of 2000 counts changes its range by tens."""
    count = instrument.resolution or 0.0
    if instrument.logarithmic:
        count *= 10.0 ** max(0.0, np.ceil(np.log10(max(value, _LEAST_OHMS) / (_COUNTS * count))))
    return float(count)


def as_read(test: Test, value: float) -> float:
    """A prediction as its instrument would show it [V, A, ohm], or as a share of light."""
    return 10.0**value if test.unit == "ohm" else value


def full_scale(test: Test, supply_volts: float) -> float:
    """The reading that stands for full supply [V], the usual current [A], or full light."""
    return {"V": supply_volts, "A": max(abs(test.normal_value), 1.0)}.get(test.unit, 1.0)


def _ranges(*rows: tuple[str, str, float]) -> tuple[Outcome, ...]:
    lows = [-np.inf, *(row[2] for row in rows[:-1])]
    return tuple(Outcome(id, label, low, high) for (id, label, high), low in zip(rows, lows, strict=True))


LOOKS = _ranges(("dark", "dark", DARK_BELOW), ("dim", "dim", LIT_ABOVE), ("lit", "lit", np.inf))
"""What an eye says of a lamp, by its share of normal light."""
RUNS = _ranges(("stopped", "stopped", STOPPED_BELOW), ("slow", "slow", FULL_ABOVE), ("full", "full speed", np.inf))
"""What an ear says of a motor, by its share of rated speed."""
SOUNDS = _ranges(("silent", "silent", 0.05), ("faint", "faint", 0.6), ("loud", "loud", np.inf))
"""What an ear says of a horn, by its share of usual power: common practice, no source."""
WARMTH = _ranges(("cold", "cold", 0.1), ("lukewarm", "lukewarm", 0.75), ("warm", "warm", np.inf))
"""What a hand says of a heated surface, by its share of usual power: common practice, no source."""
POINTER = _ranges(("empty", "at empty", 0.1), ("middle", "in the middle", 0.58), ("full", "at full", np.inf))
"""Where a heated-strip gauge points, by its share of the power at full: it bends as it is heated."""
CHARGE = _ranges(("strong", "still strong", 0.4), ("weak", "weak", 1.0), ("flat", "flat", np.inf))
"""A battery after standing, by the draw as a share of what empties it in that time."""
GASSING = _ranges(("still", "still", 0.8), ("bubbles", "a bubble here and there", 1.0), ("boils", "boils", np.inf))
"""A battery under charge, by what goes into it as a share of what makes it boil: common practice, no source."""
SCALES = {
    **{"lamp": LOOKS, "motor": RUNS, "horn": SOUNDS, "heater": WARMTH, "gauge": POINTER, "charge": CHARGE},
    "gassing": GASSING,
}
"""What is seen, heard or felt of a load, by its kind, from nothing up."""


_WELL = 1.5
"""In margins: a reading that no source raises by more is not called high where the supply is normal: judgement."""
JUMPS = Outcome("jumps", "jumps about, never settles", np.inf, np.inf)
"""What a reading ends with that cannot be noted down; no value is in its range."""
DAMAGE = (Outcome("damage", "damage seen", 0.0, np.inf), Outcome("sound", "nothing seen", -np.inf, 0.0))
"""What a visual check ends with."""


def outcomes_for(
    test: Test, normal: float, most: float, limits: dict[str, float], supply_volts: float
) -> tuple[Outcome, ...]:
    """The few named ranges of a test, from its normal value, the most a source makes of it, and the drop limits [V]."""
    if test.kind == "inspect":
        return DAMAGE
    if test.observed.load:
        return SCALES[test.observed.kind]
    ranges = {"ohm": _ohm_outcomes, "A": _amp_outcomes}
    volts = (limits, supply_volts)
    named = ranges[test.unit](normal) if test.unit in ranges else _volt_outcomes(test, normal, most, *volts)
    return (*named, JUMPS) if test.unit in WANDERING else named


def _volt_outcomes(
    test: Test, normal: float, most: float, limits: dict[str, float], supply_volts: float
) -> tuple[Outcome, ...]:
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
    if normal > full and most < max(normal, supply_volts) + _WELL * margin:  # nothing is well above the supply
        return _ranges(*below, ("normal", f"as it should be, {normal - margin:.1f} V or more", np.inf))
    as_it_should = f"as it should be, {normal - margin:.1f} to {normal + margin:.1f} V"
    return _ranges(
        *below, ("normal", as_it_should, normal + margin), ("high", f"high, {normal + margin:.1f} V or more", np.inf)
    )


def _ohm_outcomes(normal: float) -> tuple[Outcome, ...]:
    """Ranges of a resistance from its normal value [ohm]; the last one is over range too."""
    if normal >= OPEN_OHMS:
        return _ranges(
            ("closed", "a path of less than 100 ohm", 100.0),
            ("leaks", "leaks, 100 ohm to 1 Mohm", OPEN_OHMS),
            ("open", "open, as it should be: above 1 Mohm, OL", np.inf),
        )
    good = max(1.5 * normal, normal + 1.0)
    low = min(normal / 1.5, normal - 1.0)
    text = f"{low:.3g} to {good:.3g} ohm" if low >= 1.0 else f"below {good:.3g} ohm"
    above = (
        ("normal", f"as it should be, {text}", good),
        ("high", f"high, {good:.3g} ohm to 1 Mohm", OPEN_OHMS),
        ("open", "open: above 1 Mohm, OL", np.inf),
    )
    return _ranges(("low", f"low, below {low:.3g} ohm", low), *above) if low >= 1.0 else _ranges(*above)


def _amp_outcomes(normal: float) -> tuple[Outcome, ...]:
    """Ranges of a current from its normal value [A]."""
    if normal < LITTLE_AMPS:  # nothing to speak of flows, and less cannot
        good = normal + LITTLE_AMPS
        return _ranges(
            ("normal", f"as it should be, below {good:.2g} A", good), ("high", f"high, {good:.2g} A or more", np.inf)
        )
    margin = max(0.15, 0.2 * normal)
    nothing = min(0.1, normal / 2.0)
    start = max(normal - margin, nothing)
    below = [("none", f"nearly nothing, below {nothing:.2g} A", nothing)]
    if start > nothing:
        below.append(("low", f"low, {nothing:.2g} to {start:.2g} A", start))
    return _ranges(
        *below,
        ("normal", f"as it should be, {start:.2g} to {normal + margin:.2g} A", normal + margin),
        ("high", f"high, {normal + margin:.2g} A or more", np.inf),
    )


def _limit(test: Test, limits: dict[str, float]) -> float:
    if test.id.startswith("drop.feed-"):
        return limits["feed_volts"]
    return limits["ground_volts"] if test.kind == "volts" else limits["switch_volts"]
