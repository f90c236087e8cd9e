"""From the cells of another system to those of an order: names, values, units and dates."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pandas as pd

from advisor.contract.nearest import shown, unknown
from advisor.contract.order_forms import read_cell
from advisor.contract.order_names import Stranger
from advisor.refit.columns import MOMENTS, NEEDED_COLUMNS, NUMBERS, ORDER_COLUMNS, UNITS
from advisor.refit.mapping import OWN, Mapping, Source
from advisor.refit.raw_table import RawTable, Reason

# A lone surrogate is a byte that was no text; the pairs are what UTF-8 looks like that was read as Latin-1.
_MISREAD = re.compile("[\udc80-\udcff\ufffd]|[ÂÃ][\x80-\xbf]|â€")


@dataclass(frozen=True)
class Meant:
    """Orders as they were meant: a value for each cell, None where it says nothing or is bad, and what is bad.

    `place` gives the cell (from 1) and name of the column of theirs that each of ours comes from.
    """

    orders: pd.DataFrame
    reasons: tuple[Reason, ...]
    place: dict[str, tuple[int, str]]


def header_problems(header: tuple[str, ...], mapping: Mapping) -> list[Reason]:
    """List what is wrong with a header: columns that are unknown, missing, or there twice."""
    wanted = [source.column for source in mapping.columns.values() if source.column]
    known = {*wanted, *mapping.ignored}
    needed = NEEDED_COLUMNS if mapping is OWN else wanted
    found = [
        Reason(1, number, name, "unknown-column", unknown("column", name, known))
        for number, name in enumerate(header, 1)
        if name not in known
    ]
    found += [
        Reason(1, header.index(name) + 1, name, "column-twice", "stands there twice")
        for name, count in Counter(header).items()
        if count > 1
    ]
    return found + [
        Reason(1, 0, name, "missing-column", f"there is no column {shown(name)}")
        for name in dict.fromkeys(needed)
        if name not in header
    ]


def meant(raw: RawTable, mapping: Mapping) -> Meant:
    """Read every cell as what it is to be; of each distinct text of a column that is done once."""
    places = {name: (number, name) for number, name in enumerate(raw.header, 1)}
    place = {ours: places.get(source.column, (0, ours)) for ours, source in mapping.columns.items()}
    reasons: list[Reason] = []
    orders = pd.DataFrame(index=raw.cells.index)
    for column in ORDER_COLUMNS:
        source = mapping.columns.get(column)
        values: list[object] = [None] * len(raw.cells)
        if source is not None and (source.always or source.column in places):
            texts = [source.always] * len(values) if source.always else raw.cells[place[column][0] - 1].tolist()
            told = {text: _told(column, text, source, mapping.decimal) for text in set(texts)}
            reasons += _reasons(raw.cells.index, texts, told, *place[column])
            values = [None if isinstance(told[text], Stranger) else told[text] for text in texts]
        orders[column] = _typed(column, values, orders.index)
    # A case of the service need not have a number of the shop's own; its id stands for it.
    named = orders.index[orders["reference"].isna() & orders["case"].notna()]
    orders["reference"] = orders["reference"].fillna(orders["case"])
    reasons = [
        r for r in reasons if not (r.name == "missing" and r.column == place["reference"][1] and r.line in named)
    ]
    return Meant(orders, tuple(reasons), {column: place.get(column, (0, column)) for column in ORDER_COLUMNS})


def _told(column: str, text: str, source: Source, decimal: str) -> object | Stranger:
    """Give what one text means in a column of ours."""
    if _MISREAD.search(text):
        return Stranger("wrong-encoding", f"holds what is no text in this encoding: {shown(text)}")
    ours = text.strip()
    if not ours:
        return Stranger("missing", f"every order needs {column}") if column in NEEDED_COLUMNS else None
    if source.values and not (ours in source.values or source.others_stay):
        return Stranger("unknown-value", unknown("value", ours, source.values))
    ours = source.values.get(ours, ours)
    if column in NUMBERS:
        return _number(column, ours, source, decimal)
    return _moment(column, ours, source) if column in MOMENTS else read_cell(column, ours)


def _number(column: str, text: str, source: Source, decimal: str) -> object | Stranger:
    plain = text.replace(".", "").replace(",", ".") if decimal == "," else text
    if not source.unit:
        return read_cell(column, plain)
    try:
        value = float(plain)
    except ValueError:
        return Stranger("not-a-number", f"expected a number of {source.unit}, not {shown(text)}")
    return read_cell(column, repr(value * UNITS[column][source.unit]))


def _moment(column: str, text: str, source: Source) -> object | Stranger:
    if not source.date and not re.match(r"\d{4}-\d\d-\d\d", text):
        return Stranger("not-a-date", f"expected a moment such as 2026-03-02T10:00:00Z, not {shown(text)}")
    if not source.date:
        value = read_cell(column, text)
        return value - timedelta(hours=source.hours_ahead) if isinstance(value, datetime) else value
    try:
        read = datetime.strptime(text, source.date)
    except ValueError:
        return Stranger("not-a-date", f"expected a date written as {source.date}, not {shown(text)}")
    aware = read.replace(tzinfo=UTC) if read.tzinfo is None else read.astimezone(UTC)
    return aware - timedelta(hours=source.hours_ahead)


def _reasons(
    lines: pd.Index, texts: list[str], told: dict[str, object | Stranger], cell: int, column: str
) -> Iterator[Reason]:
    strange = {text: value for text, value in told.items() if isinstance(value, Stranger)}
    for line, text in zip(lines.tolist(), texts, strict=True):
        if text in strange:
            yield Reason(line, cell, column, strange[text].reason, strange[text].detail)


def _typed(column: str, values: list[object], lines: pd.Index) -> pd.Series:
    kinds: dict[str, Callable[[], pd.Series]] = {
        **dict.fromkeys(NUMBERS, lambda: pd.Series(values, index=lines, dtype="float64")),
        **dict.fromkeys(MOMENTS, lambda: pd.Series(values, index=lines, dtype="datetime64[us, UTC]")),
    }
    return kinds.get(column, lambda: pd.Series(values, index=lines, dtype="str"))()
