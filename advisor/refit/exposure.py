"""Absolute rates: how often vehicles in service come with each cause, where somebody knows how many there are.

Orders alone tell ratios.  With vehicle-years the expected orders about a cause are a rate; its interval is that of the
cause's factor and that of the number of all orders (gamma, Jeffreys), put together on logarithms.  It is a rate of
orders at these shops: what is mended elsewhere, or never noticed, is not in it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy import stats  # type: ignore[import-untyped]  # it ships no types

from advisor.errors import UsageError
from advisor.network.worlds import Floats
from advisor.refit.learning import Learned

COLUMNS = ["vehicle_group", "vehicle_years"]
PER = 1000.0
LEVEL = 0.9


@dataclass(frozen=True)
class Rate:
    """Orders in 1,000 vehicle-years, with a 90 % interval, and how many orders it comes from."""

    rate: float
    low: float
    high: float
    orders: float


@dataclass(frozen=True)
class Absolute:
    """Rates of all orders by vehicle group, and of the causes that orders say something of by circuit."""

    groups: Mapping[str, Rate]
    causes: Mapping[str, Mapping[str, Rate]]


def read_exposure(text: str) -> dict[str, float]:
    r"""Read vehicle-years in service while the orders were closed, by vehicle group, from CSV.

    >>> read_exposure("vehicle_group,vehicle_years\nbox,1200\n")
    {'box': 1200.0}

    Raises:
        UsageError: other columns, a group twice, or no number above zero.
    """
    rows = csv.DictReader(io.StringIO(text))
    if rows.fieldnames is None or list(rows.fieldnames) != COLUMNS:
        raise UsageError(f"the exposure needs the columns {', '.join(COLUMNS)}")
    found: dict[str, float] = {}
    for row in rows:
        group, years = row["vehicle_group"], _number(row["vehicle_years"])
        if not years > 0.0 or group in found:
            raise UsageError(f"line {rows.line_num} of the exposure: a group once, with vehicle-years above zero")
        found[group] = years
    return found


def _number(text: str | None) -> float:
    try:
        return float(text or "nan")
    except ValueError:
        return float("nan")


def absolute(learned: Learned, years: Mapping[str, float]) -> Absolute:
    """Give rates for a known exposure.

    Args:
        learned: A refit.
        years: Vehicle-years by vehicle group, "" for vehicles of no group.

    Raises:
        UsageError: there are orders of a group whose vehicle-years are not told.
    """
    patterns, total = learned.parted.patterns, sum(years.values())
    orders = {str(g): float(n) for g, n in patterns.groupby("vehicle_group")["count"].sum().items()}
    unknown = sorted(orders.keys() - years.keys())
    if unknown:
        raise UsageError(f"the exposure does not tell the vehicle-years of: {', '.join(map(repr, unknown))}")
    groups = {group: _of_count(orders.get(group, 0.0), each) for group, each in years.items()}
    whole = np.log(_ends(sum(orders.values())))
    causes = {}
    for circuit, rates in learned.rates.items():
        names = learned.coordinates.terms[circuit].model.compiled.causes
        logs = np.log(np.array([rates.known.low, rates.known.high]) / rates.factors)
        low, high = np.exp(np.sign(logs) * np.hypot(logs, whole[:, None]))
        per = PER * rates.events / total
        told = np.flatnonzero(~rates.known.from_handbook)
        causes[circuit] = {
            names[c]: Rate(float(per[c]), float(per[c] * low[c]), float(per[c] * high[c]), float(rates.events[c]))
            for c in told
        }
    return Absolute(groups, causes)


def _of_count(orders: float, years: float) -> Rate:
    low, high = PER * stats.gamma.ppf([(1 - LEVEL) / 2, (1 + LEVEL) / 2], orders + 0.5) / years
    return Rate(PER * orders / years, float(low), float(high), orders)


def _ends(orders: float) -> Floats:
    """Ends of the interval of a rate over the rate, from a number of orders, shape (2,)."""
    ends: Floats = stats.gamma.ppf([(1 - LEVEL) / 2, (1 + LEVEL) / 2], orders + 0.5) / max(orders, 0.5)
    return ends
