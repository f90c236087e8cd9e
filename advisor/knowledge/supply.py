"""What a battery reading changes: later readings are judged against the supply that was measured.

All voltages and currents of a circuit with one battery are in proportion to it, but for the lamps' own law; so,
nearly, is a motor's speed, and light goes with the 3.4th power.  The measured value takes the place of the rest
voltage in every prediction, and its meter's error that of the supply's spread.  Plugged in like this it serves nearly
as well as carrying the supply along as an unknown; what is given up is that later readings could correct it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from advisor.circuit.lamp import LIGHT_EXPONENT
from advisor.knowledge.compiled import Compiled
from advisor.knowledge.library import Instrument
from advisor.network.findings import Finding, ReadingFinding

LEAST_VOLTS, MOST_VOLTS = 9.0, 16.0
"""A 12 V supply outside this range is no supply but a slip or a dead battery (ISO 16750-2 code C, from memory)."""
IN_PROPORTION = ("V", "A")
STEP_VOLTS = 0.05
"""Measured supplies are rounded to this, so that few tables are made; a third of it counts as spread."""


def measured_volts(findings: Sequence[Finding], battery_tests: Collection[str]) -> float | None:
    """The supply by the last plausible battery reading [V], rounded, or None if there is none."""
    read = [f.value for f in findings if isinstance(f, ReadingFinding) and f.test in battery_tests]
    plausible = [value for value in read if value is not None and LEAST_VOLTS <= value <= MOST_VOLTS]
    return round(plausible[-1] / STEP_VOLTS) * STEP_VOLTS if plausible else None


def at_supply(compiled: Compiled, volts: float, posts: int, meter: Instrument) -> Compiled:
    """The same circuit with `volts` measured at the posts, known to the meter's error.

    Each hypothesis is scaled by what it predicts for the battery test in column `posts`: under a weak battery the
    measured voltage already has the sag in it.
    """
    ratio = (volts / np.maximum(compiled.value[:, posts], 1.0))[:, None]
    electrical = np.array([test.unit in IN_PROPORTION or bool(test.observed.motor) for test in compiled.tests])
    seen = np.array([test.unit == "" and bool(test.observed.lamp) for test in compiled.tests])
    factor = np.where(electrical, ratio, np.where(seen, ratio**LIGHT_EXPONENT, 1.0))
    known = np.hypot(meter.gain_error / np.sqrt(3.0), STEP_VOLTS / 3.0 / 12.0)
    # The supply's own spread is in every voltage's; it is taken out and the measured one put in.
    voltages = np.array([test.unit == "V" for test in compiled.tests])
    out = np.where(voltages, meter.supply_spread**2 - known**2, 0.0) * compiled.value**2
    spread = np.sqrt(np.maximum(compiled.spread**2 - out, (0.1 * compiled.spread) ** 2)) * factor
    return replace(compiled, value=compiled.value * factor, spread=spread)
