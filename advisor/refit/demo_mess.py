"""Rows that are wrong in every way that is named, planted among good ones."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from advisor.refit.columns import ORDER_COLUMNS
from advisor.units import KM_PER_MILE

SHARE = 0.03
"""Share of the rows that are spoiled."""
Row = dict[str, str]
BOM = "\ufeff"


@dataclass(frozen=True)
class Spoiled:
    """A CSV file with bad rows in it: its bytes, and the planted reason by line."""

    raw: bytes
    planted: dict[int, str]


def spoiled(rows: Sequence[Row], rng: np.random.Generator, share: float = SHARE) -> Spoiled:
    """Spoil a share of the rows, each way in its turn, and write all as CSV."""
    ways = list(WAYS)
    count = round(len(rows) * share)
    chosen = dict(zip(sorted(rng.choice(len(rows), count, replace=False).tolist()), _turns(count, rng), strict=True))
    lines = [_line(list(ORDER_COLUMNS))]
    planted: dict[int, str] = {}
    for number, row in enumerate(rows):
        way = ways[chosen[number]] if number in chosen else ""
        if way == "ragged-row":
            lines.append(_line(list(row.values())[: int(rng.integers(3, len(row)))]))
        elif way == "duplicate-order":
            lines += [_line(list(row.values()))] * 2
        else:
            lines.append(_line(list((WAYS[way](row, rows[:number]) if way else row).values())))
        if way:
            planted[len(lines)] = (
                way if way != "odometer-backwards" or _came_twice(row, rows[:number]) else "units-mixed"
            )
    return Spoiled("".join(lines).encode("utf-8", "surrogateescape"), planted)


def _came_twice(row: Row, earlier: Sequence[Row]) -> bool:
    return sum(other["vehicle"] == row["vehicle"] for other in earlier) > 1


def _turns(count: int, rng: np.random.Generator) -> list[int]:
    turns = np.resize(np.arange(len(WAYS)), count)
    rng.shuffle(turns)
    return [int(turn) for turn in turns]


def _line(cells: Sequence[str]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerow(cells)
    return text.getvalue()


def _cell(column: str, text: str) -> Callable[[Row, Sequence[Row]], Row]:
    return lambda row, _: {**row, column: text}


def _mistyped(column: str) -> Callable[[Row, Sequence[Row]], Row]:
    return lambda row, _: {**row, column: row[column][:2] + "x" + row[column][2:] if row[column] else "xx"}


def _later(column: str, years: int) -> Callable[[Row, Sequence[Row]], Row]:
    def moved(row: Row, _: Sequence[Row]) -> Row:
        """The row with its moment years later."""
        moment = datetime.fromisoformat(row[column])
        return {**row, column: moment.replace(year=moment.year + years, day=min(moment.day, 28)).isoformat()}

    return moved


def _closed_first(row: Row, _: Sequence[Row]) -> Row:
    return {**row, "closed_at": (datetime.fromisoformat(row["opened_at"]) - timedelta(days=3)).isoformat()}


def _backwards(row: Row, earlier: Sequence[Row]) -> Row:
    """Give a vehicle half of what its odometer had come to before."""
    return _read_as(row, earlier, lambda before: before / 2)


def _in_miles(row: Row, earlier: Sequence[Row]) -> Row:
    """Give a vehicle its own reading in miles."""
    return _read_as(row, earlier, lambda _: float(row["odometer_km"]) / KM_PER_MILE)


def _read_as(row: Row, earlier: Sequence[Row], make: Callable[[float], float]) -> Row:
    """Change a reading that two good ones stand before; else make it one that no vehicle's hours allow."""
    before = [float(other["odometer_km"]) for other in earlier if other["vehicle"] == row["vehicle"]]
    shown = make(before[-2]) if _came_twice(row, earlier) else 0.0
    clear = _came_twice(row, earlier) and shown < before[-2]
    return {**row, "odometer_km": str(round(shown if clear else float(row["hours"]) * 400.0))}


def _in_hours(row: Row, _: Sequence[Row]) -> Row:
    return {**row, "minutes": f"{min(float(row['minutes']), 170.0) / 60.0:.2f}"}


WAYS: dict[str, Callable[[Row, Sequence[Row]], Row]] = {
    "unknown-circuit": _mistyped("circuit"),
    "unknown-symptom": _mistyped("symptom"),
    "unknown-part": _cell("causes", "flux-part/open"),
    "unknown-test": _cell("findings", '[{"kind":"outcome","test":"listen.nowhere","outcome":"quiet"}]'),
    "unknown-repair": _cell("repairs", "repair-nothing gone"),
    "unknown-value": _cell("climate", "tropical"),
    "unreadable-findings": lambda row, _: {**row, "findings": (row["findings"] or '[{"kind"')[:-1]},
    "date-in-future": _later("closed_at", 60),
    "closed-before-opened": _closed_first,
    "not-a-date": _cell("closed_at", "31/02/2025"),
    "odometer-backwards": _backwards,
    "units-mixed": lambda row, earlier: (_in_miles if len(earlier) % 2 else _in_hours)(row, earlier),
    "negative": _cell("years", "-4"),
    "not-a-number": _cell("minutes", "half a day"),
    "missing": _cell("reference", ""),
    "wrong-encoding": _cell("correction", "Stra\udcdfe gepr\udcfcft"),
    "duplicate-order": lambda row, _: row,
    "ragged-row": lambda row, _: row,
}
"""What makes a row wrong, by the reason that it is meant to be rejected for; the last two are made by the writer."""
