"""Orders parted by time: a fit learns from the earlier ones and is judged by the later ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from advisor.network.worlds import Bools, Floats
from advisor.refit.columns import PATTERN_COLUMNS
from advisor.refit.patterns import settled

LATER = 0.3
"""Share of the orders, or somewhat less, that is kept back for judging."""
_TOLD = [name for name in PATTERN_COLUMNS if name not in {"period", "shop", "count"}]

_SETTLED = {"repairs": "", "came_back": "", "followed_days": 0}
"""What says nothing more where the cause is confirmed."""


@dataclass(frozen=True, eq=False)
class Split:
    """Patterns whatever their period and shop, with their orders on both sides.

    Attributes:
        patterns: `PATTERN_COLUMNS` without period and shop.
        early: Orders to learn from, shape (N,).
        late: Orders to judge by, shape (N,).
        first: First period of the later ones, "" where there are none.
    """

    patterns: pd.DataFrame
    early: Floats
    late: Floats
    first: str

    def at(self, rows: np.ndarray) -> Split:
        """The same for some of the patterns."""
        return Split(self.patterns.iloc[rows].reset_index(drop=True), self.early[rows], self.late[rows], self.first)


def split(patterns: pd.DataFrame) -> Split:
    """Part patterns by time, and count those that differ in period or shop only as one."""
    after = later(patterns)
    sure = settled(patterns)
    plain = patterns.assign(**{name: patterns[name].mask(sure, blank) for name, blank in _SETTLED.items()})
    told = plain[[*_TOLD, "count"]].assign(late=np.where(after, patterns["count"], 0))
    sums = told.groupby(_TOLD, dropna=False, sort=True, as_index=False)[["count", "late"]].sum()
    late = sums.pop("late").to_numpy(dtype=np.float64)
    early = sums["count"].to_numpy(dtype=np.float64) - late
    return Split(sums, early, late, min(patterns["period"][after], default=""))


def later(patterns: pd.DataFrame, share: float = LATER) -> Bools:
    """Which patterns are of the last periods, with together no more than a share of all orders, shape (N,).

    Orders without a period count as early; with one period only none is kept back.
    """
    counts = patterns.groupby("period")["count"].sum().sort_index()
    after = counts[::-1].cumsum()[::-1]
    kept = {period for period in counts.index if period and after[period] <= share * counts.sum()}
    found: Bools = patterns["period"].isin(kept).to_numpy(dtype=bool)
    if found.any() or counts.index.nunique() < 2:
        return found
    last: Bools = np.asarray(patterns["period"] == counts.index[-1])  # one period holds more than the share
    return last
