"""Orders counted as patterns: one row for all orders that tell a fit the same."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd

from advisor.refit.columns import FOLLOWED_DAYS, HOURS, PATTERN_COLUMNS, YEARS

KEYS = PATTERN_COLUMNS[:-1]
_CAME_BACK = {"true": "yes", "True": "yes", "yes": "yes", "false": "no", "False": "no", "no": "no"}


def settled(table: pd.DataFrame) -> pd.Series:
    """Whether the cause of each pattern is named and confirmed."""
    return (table["cause_status"] == "confirmed") & (table["causes"] != "")


def patterns(orders: pd.DataFrame) -> pd.DataFrame:
    """Count the distinct patterns of a table of orders.

    Args:
        orders: Columns of order/1; a column that is missing says nothing, as an empty cell does.

    Returns:
        `PATTERN_COLUMNS`, sorted by all of them but the count, so that equal orders give equal tables
        whatever their sequence.

    Raises:
        ValueError: Findings are no JSON.
    """
    each = pd.DataFrame({name: make(orders) for name, make in _MAKERS.items()}).assign(count=1)
    sums = each.groupby(list(KEYS), dropna=False, sort=False, as_index=False)["count"].sum()
    table = sums.sort_values(list(KEYS), ignore_index=True)
    return table.astype({"followed_days": "int64", "years": "float64", "hours": "float64", "count": "int64"})[
        list(PATTERN_COLUMNS)
    ]


def canonical_findings(text: str) -> str:
    """Give a JSON list of findings with sorted keys and without spaces, "[]" for none.

    >>> canonical_findings('[{"test": "a",  "outcome": "ok"}]'), canonical_findings("")
    ('[{"outcome":"ok","test":"a"}]', '[]')
    """
    return json.dumps(json.loads(text), sort_keys=True, separators=(",", ":")) if text.strip() else "[]"


def canonical_causes(text: str) -> str:
    """Give causes sorted, each once.

    >>> canonical_causes("b/open;a/short ; b/open")
    'a/short; b/open'
    """
    return "; ".join(sorted({cause.strip() for cause in text.split(";") if cause.strip()}))


def canonical_repairs(text: str) -> str:
    """Give repairs in their order, evenly spaced.

    >>> canonical_repairs("lamp  fixed;fuse not-fixed")
    'lamp fixed; fuse not-fixed'
    """
    return "; ".join(" ".join(repair.split()) for repair in text.split(";") if repair.strip())


def _texts(orders: pd.DataFrame, name: str) -> pd.Series:
    """Give a column as text without spaces at its ends, "" where there is nothing."""
    if name not in orders:
        return pd.Series("", index=orders.index, dtype="str")
    column = orders[name]
    return column.astype("str").where(column.notna(), "").str.strip()


def _made(name: str, make: Callable[[str], str]) -> Callable[[pd.DataFrame], pd.Series]:
    """Rewrite each distinct text of a column once."""

    def rewritten(orders: pd.DataFrame) -> pd.Series:
        """The column of these orders."""
        texts = _texts(orders, name)
        return texts.map({text: make(text) for text in texts.unique()}).astype("str")

    return rewritten


def _numbers(orders: pd.DataFrame, name: str) -> np.ndarray:
    """Give a column as numbers, NaN where there is none."""
    if name not in orders:
        return np.full(len(orders), np.nan)
    return np.asarray(pd.to_numeric(orders[name].replace("", np.nan)).to_numpy(dtype=float, na_value=np.nan))


def band_middles(numbers: np.ndarray, edges: Sequence[float]) -> np.ndarray:
    """Put numbers into bands, and give the middle of each; NaN stays."""
    lower, upper = np.asarray(edges[:-1], dtype=float), np.asarray(edges[1:], dtype=float)
    known = ~np.isnan(numbers)
    band = np.clip(np.searchsorted(edges, np.where(known, numbers, 0.0), side="right") - 1, 0, len(lower) - 1)
    return np.where(known, ((lower + upper) / 2).take(band), np.nan)


def followed_bands(days: np.ndarray) -> np.ndarray:
    """Give the lower end of the band of days that a vehicle was followed [days]; unknown is not followed."""
    band = np.clip(np.searchsorted(FOLLOWED_DAYS, np.nan_to_num(days, nan=0.0), side="right") - 1, 0, None)
    followed: np.ndarray = np.array(FOLLOWED_DAYS).take(band)
    return followed


def _middle(name: str, edges: Sequence[float]) -> Callable[[pd.DataFrame], np.ndarray]:
    return lambda orders: band_middles(_numbers(orders, name), edges)


def _period(orders: pd.DataFrame) -> pd.Series:
    if "closed_at" not in orders:
        return pd.Series("", index=orders.index, dtype="str")
    months = pd.to_datetime(orders["closed_at"], utc=True, format="ISO8601").dt.strftime("%Y-%m")
    return months.astype("str").where(months.notna(), "")


CANONICAL: dict[str, Callable[[str], str]] = {
    "circuit": str,
    "symptom": str,
    "findings": canonical_findings,
    "repairs": canonical_repairs,
    "causes": canonical_causes,
    "cause_status": str,
    "came_back": lambda text: _CAME_BACK.get(text, ""),
    "vehicle_group": str,
    "climate": str,
    "shop": str,
}
"""How the texts of a column are written alike, by column; each is given without spaces at its ends."""

_MAKERS: dict[str, Callable[[pd.DataFrame], pd.Series | np.ndarray]] = {
    **{name: _made(name, make) for name, make in CANONICAL.items()},
    "followed_days": lambda orders: followed_bands(_numbers(orders, "followed_days")),
    "years": _middle("years", YEARS),
    "hours": _middle("hours", HOURS),
    "period": _period,
}
