"""What repairs, what came of them, and coming back or not leave of what was found before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.decision.history import History
from advisor.network.findings import RepairFinding
from advisor.network.worlds import Floats
from advisor.refit.sums import binned
from advisor.units import DAYS_PER_YEAR

RETURN_DAYS = 30.0
"""Mean days until a complaint that is still there brings a vehicle back [days]: judgement, no source."""
RETURNS_HERE = 0.8
"""Share of such customers that come back to the same shop: judgement, no source."""
ANEW_PER_YEAR = 0.02
"""Rate at which a mended vehicle comes back with the same complaint for another reason [1/year]: judgement."""
EARLY_DAYS = 15.0
"""A vehicle that came back in the first band of days was followed so long at least [days]: judgement."""


@dataclass(frozen=True)
class Afterwards:
    """What repairs, their results and "came back" leave of what was found before them, shape (H,) each.

    P(all | hypothesis) = P(found | fault shows) `shows` + P(found | fault hides) `hides` + P(found | none) `silent`:
    a fault that has hidden until it was cured read like none.
    """

    shows: Floats
    hides: Floats
    silent: Floats

    @staticmethod
    def of(quiet: Floats, history: History, back: Floats | None) -> Afterwards:
        """Sum over the paths of repairs.

        Args:
            quiet: P(a fault hides | hypothesis), shape (H,).
            history: Of the complaint and the repairs alone.
            back: P(came back, or did not | path), shape (P,), None where nobody knows or nothing was repaired.
        """
        paths = history.paths
        if paths is None:
            return Afterwards(1.0 - quiet, quiet, np.zeros_like(quiet))
        told = [told.evidence for told in history.told if isinstance(told.finding, RepairFinding)]
        hides = quiet[paths.now] * paths.whole
        chance = paths.chance if back is None else paths.chance * back
        parts = [
            chance * (1.0 - hides) * np.prod([each.shows for each in told], axis=0, initial=1.0),
            chance * hides * np.prod([each.hidden for each in told], axis=0, initial=1.0),
        ]
        silent = paths.stands[0] != paths.start
        rows = [*(np.where(silent, 0.0, part) for part in parts), np.where(silent, sum(parts), 0.0)]
        return Afterwards(*(binned(paths.start, row, len(quiet)) for row in rows))


def comes_back(shows: Floats, came_back: str, followed_days: float) -> Floats:
    """P(a vehicle came back, or did not, within the days that it was followed | what is left), shape of `shows`.

    Whoever still has the complaint comes back after an exponential time, or goes elsewhere; not coming back is no proof
    that it is gone.

    Args:
        shows: P(complaint shows | what is left).
        came_back: "yes" or "no".
        followed_days: Time in which a return would be known [days].
    """
    days = max(followed_days, EARLY_DAYS) if came_back == "yes" else followed_days
    still = RETURNS_HERE * -np.expm1(-days / RETURN_DAYS)
    anew = -np.expm1(-ANEW_PER_YEAR * days / DAYS_PER_YEAR)
    back: Floats = anew + (1.0 - anew) * still * shows
    return back if came_back == "yes" else 1.0 - back
