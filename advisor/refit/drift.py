"""Whether causes come more or less often than they did: a likelihood ratio test for each, with Holm's correction.

G = 2 sum of observed log(observed / expected) of a two by two table: this cause or another, before or after the split.
Holm's step-down keeps the chance of any false alarm at 5 % (S. Holm, "A simple sequentially rejective multiple test
procedure", Scandinavian Journal of Statistics 6, 1979, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special, stats  # type: ignore[import-untyped]  # it ships no types

from advisor.network.worlds import Floats

LEAST = 5.0
"""Confirmed orders of a cause below which it is not tested."""
ALARM = 0.05


@dataclass(frozen=True)
class Drift:
    """A cause whose share among confirmed orders of its circuit has changed: orders and share before and after."""

    place: int
    before: float
    after: float
    share_before: float
    share_after: float
    p: float


def drifts(before: Floats, after: Floats, circuit: Floats) -> tuple[Drift, ...]:
    """Test each of K causes against all others of its circuit.

    Args:
        before: Confirmed orders of each cause in earlier periods, shape (K,).
        after: The same in later ones, shape (K,).
        circuit: Number of its circuit, shape (K,).
    """
    wholes = [np.bincount(circuit, counts)[circuit] for counts in (before, after)]
    tested = np.flatnonzero((before + after >= LEAST) & (wholes[0] > 0.0) & (wholes[1] > 0.0))
    p = _p(np.array([before, after])[:, tested], np.array(wholes)[:, tested])
    order, found = np.argsort(p, kind="stable"), []
    for rank, place in enumerate(order):
        if p[place] * (len(p) - rank) > ALARM:
            break
        at = int(tested[place])
        shares = float(before[at] / wholes[0][at]), float(after[at] / wholes[1][at])
        found.append(Drift(at, float(before[at]), float(after[at]), *shares, float(p[place])))
    return tuple(found)


def _p(mine: Floats, whole: Floats) -> Floats:
    """P(G at least so large | no drift) of each column."""
    table = np.stack([mine, whole - mine])
    rows, total = table.sum(axis=1, keepdims=True), whole.sum(axis=0)
    expected = rows * table.sum(axis=0) / total
    g = 2.0 * (special.xlogy(table, table) - special.xlogy(table, np.where(expected > 0.0, expected, 1.0))).sum((0, 1))
    p: Floats = stats.chi2.sf(np.maximum(g, 0.0), 1)
    return p
