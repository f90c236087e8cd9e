"""Sums of values by number, as floats."""

from __future__ import annotations

import numpy as np

from advisor.network.worlds import Floats, Ints


def binned(at: Ints, values: Floats, count: int) -> Floats:
    """Sum values, shape (N,), by the number that each belongs to, shape (N,); shape (count,)."""
    return np.bincount(at, values, minlength=count).astype(np.float64, copy=False)
