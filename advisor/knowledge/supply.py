"""What all readings of a case share: the supply that they stand on, and what the black lead sits on.

All voltages and currents of a circuit with one battery are in proportion to it, but for the lamps' own law; so,
nearly, is a motor's speed, and light goes with the 3.4th power.  One state of the axis is a narrow range of the
supply, as a share of the battery's rest voltage; the voltmeter's gain error is in it, since the same meter reads
battery and circuit.  Two more states stand for a black lead that is not on the battery's post.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr  # type: ignore[import-untyped]  # scipy ships no types

from advisor.circuit.lamp import LIGHT_EXPONENT
from advisor.knowledge.catalogue import Test
from advisor.knowledge.library import Instrument

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

LEAST_VOLTS, MOST_VOLTS = 9.0, 15.0
"""A 12 V supply outside this range is no supply but a slip or a dead battery (ISO 16750-2 code C, from memory)."""
ANY_SUPPLY = 0.01
"""Chance that the supply is anywhere in that range, tired or on a charger: common practice, no source."""
BLACK_ASTRAY = 0.02
"""Chance that the black lead of a case is not on the battery's post: common practice, no source."""
RAISED_SHARE = 0.25
"""Share of those cases with it on a ground that carries current, else it has no contact: judgement, no source."""
RAISED_VOLTS, RAISED_SPREAD = 0.5, 0.5
"""What a ground that carries current stands at: judgement, no source."""
DRIFT = 0.008
"""Spread of the supply after a quarter of an hour with the key on, as a share, growing with the root of the time: a
tenth of a volt, judgement, no source."""
_CORE = 3.0
"""Half the width of the finely divided range, in spreads."""
POST, RAISED, LOOSE = 0, 1, 2
COARSE = (5, 1)
"""Ranges for a network of few states: with each tail and the two of the black lead, nine in all."""


@dataclass(frozen=True)
class Supply:
    """What all readings of a case stand on.

    The supply [V] with its spread, and the probability that the black lead is not on the battery's post.
    """

    volts: float
    spread_volts: float
    black_lead_astray: float


@dataclass(frozen=True)
class Axis:
    """The shared states of a case, G of them.

    Attributes:
        scale: Supply over rest voltage, the meter's gain included, shape (G,).
        width: Standard deviation of the scale inside a state, shape (G,).
        black: Where the black lead is: on the battery's post, on a raised ground, on no ground, shape (G,).
        prior: Of the states, shape (G,).
    """

    scale: Floats
    width: Floats
    black: Ints
    prior: Floats

    @cached_property
    def supplies(self) -> Ints:
        """The state that stands for each for tests which the black lead has no part in, shape (G,)."""
        first = np.unique(self.scale, return_index=True)
        return first[1][np.searchsorted(first[0], self.scale)]

    def names(self, volts: float) -> tuple[str, ...]:
        """What each state is, for a reader; `volts` is the battery's rest voltage."""
        black = {RAISED: "black lead on a raised ground", LOOSE: "black lead on no ground"}
        pairs = zip(self.black.tolist(), self.scale.tolist(), strict=True)
        return tuple(black.get(where, f"supply {scale * volts:.2f} V") for where, scale in pairs)

    def middle(self, states: Floats) -> tuple[float, float]:
        """Median of the supply's scale under a distribution of the states, and its spread by the quartiles."""
        order = np.argsort(self.scale, kind="stable")
        below = np.cumsum(states[order]) - 0.5 * states[order]
        low, median, high = np.interp([0.25, 0.5, 0.75], below, self.scale[order])
        return float(median), float((high - low) / 1.349)


def supply_axis(volts: float, meter: Instrument, core: int = 24, each_tail: int = 16) -> Axis:
    """Divide the supply into `core` narrow ranges about the rest voltage and `each_tail` wide ones on either side."""
    sigma = spread_of_supply(meter)
    low, high = LEAST_VOLTS / volts, MOST_VOLTS / volts
    inner = 1.0 - _CORE * sigma, 1.0 + _CORE * sigma
    edges = np.concatenate([
        np.linspace(low, inner[0], each_tail + 1),
        np.linspace(*inner, core + 1)[1:-1],
        np.linspace(inner[1], high, each_tail + 1),
    ])  # fmt: skip
    step = np.diff(edges)
    usual = np.diff(ndtr((edges - 1.0) / sigma))
    known = (1.0 - ANY_SUPPLY) * usual / usual.sum() + ANY_SUPPLY * step / step.sum()
    return Axis(
        np.append(edges[:-1] + step / 2.0, [1.0, 1.0]),
        np.append(step / np.sqrt(12.0), [sigma, sigma]),
        np.append(np.full(len(step), POST), [RAISED, LOOSE]),
        np.append((1.0 - BLACK_ASTRAY) * known, BLACK_ASTRAY * np.array([RAISED_SHARE, 1.0 - RAISED_SHARE])),
    )


def spread_of_supply(meter: Instrument) -> float:
    """Spread of the supply's scale before anything is read; the gain error's bound is a uniform one's."""
    return float(np.hypot(meter.supply_spread, meter.gain_error / np.sqrt(3.0)))


def exponent(test: Test) -> float:
    """The power of the supply with which a test's reading goes: ohms and looks for damage do not."""
    if test.observed.parts or test.unit == "ohm":
        return 0.0
    return {"lamp": LIGHT_EXPONENT, "motor": 1.0}.get(test.observed.kind, 2.0 if test.observed.load else 1.0)


def drifted(minutes: float) -> float:
    """Spread of the supply's scale some minutes after it was read."""
    return float(DRIFT * np.sqrt(abs(minutes) / 15.0))
