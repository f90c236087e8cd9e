"""What the counter hears says of the fault: that a complaint comes and goes, and where somebody has worked."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.network.worlds import SPECIALS

Floats = NDArray[np.float64]

MISTOLD = 0.1
"""Chance that a customer tells the one where it is the other: judgement, no source."""
SEEN_HALF = 2.0
"""A fault that comes and goes is caught at it in half of the visits, as the part library says of `loose`."""
UNKNOWN = 0.5
"""Share that comes and goes of what is not a listed fault: nothing is known of it."""
_OF_WORK, _LATELY = 0.10, 0.05
"""Share of faults that earlier work and added parts have brought: common practice, no source; share of vehicles on
which somebody has worked lately at any one place, or added something there: judgement, no source."""
WORK_TIMES = (_OF_WORK + (1.0 - _OF_WORK) * _LATELY) / _LATELY
"""By how much likelier such a fault is where somebody has worked: P(worked there | fault) / P(worked there), 2.9."""


def tells(loose: Floats, *, comes_and_goes: bool) -> Floats:
    """P(the customer tells it so | hypothesis), shape (H,).

    Args:
        loose: Chance that a hypothesis' loosest fault does not show in a visit for coming and going, shape (H,).
        comes_and_goes: What is told.
    """
    share = np.minimum(SEEN_HALF * loose, 1.0)
    share[:SPECIALS] = UNKNOWN
    if not loose.any():  # the model says of no fault whether it comes and goes
        return np.ones(len(loose))
    said: Floats = MISTOLD + (1.0 - 2.0 * MISTOLD) * share
    return said if comes_and_goes else 1.0 - said
