"""Orders parted by time: a fit learns from the earlier ones and is judged by the later ones."""

from __future__ import annotations

import numpy as np
import pandas as pd

from advisor.network.worlds import Bools

LATER = 0.3
"""Share of the orders, or somewhat less, that is kept back for judging."""


def later(patterns: pd.DataFrame, share: float = LATER) -> Bools:
    """Which patterns are of the last periods, with together no more than a share of all orders, shape (N,).

    Orders without a period count as early; with one period only none is kept back.
    """
    counts = patterns.groupby("period")["count"].sum().sort_index()
    after = counts[::-1].cumsum()[::-1]
    kept = {period for period in counts.index if period and after[period] <= share * counts.sum()}
    found = patterns["period"].isin(kept).to_numpy(dtype=bool)
    if found.any() or counts.index.nunique() < 2:
        return found
    last: Bools = np.asarray(patterns["period"] == counts.index[-1])  # one period holds more than the share
    return last
