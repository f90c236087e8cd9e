"""Repair orders of the shop's own records: a CSV table against its types and the circuits, row by row."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache

from advisor.contract import service
from advisor.contract.body import Json
from advisor.contract.case_requests import parse
from advisor.contract.engine import Engine, KnownModel
from advisor.contract.nearest import unknown
from advisor.contract.order_cells import Cell, active
from advisor.contract.order_names import strangers
from advisor.contract.order_rows import COLUMNS, MAX_ROWS, NEEDED, BadCell, NotCsvError, OrderRow
from advisor.errors import ImportLimitError, RequestError

SECONDS = 20.0
"""How long the rows of one import may take [s]."""


@dataclass(frozen=True)
class GoodRow:
    """A row that was accepted: the line it began in, its cells as an export gives them, and their hash."""

    line: int
    order: OrderRow
    cells: dict[str, Cell]
    digest: str


@dataclass
class Table:
    """What was read of a table, rows in order; a row with something wrong is in `bad` alone."""

    rows: int = 0
    good: list[GoodRow] = field(default_factory=list)
    bad: list[BadCell] = field(default_factory=list)


def read_table(raw: bytes, engine: Engine, clock: Callable[[], float] = time.monotonic) -> Table:
    """Read a table with a header; nothing is written.

    Raises:
        NotCsvError: it is no CSV text in UTF-8, or its header is wrong.
        ImportLimitError: it has too many rows, or takes too long.
    """
    lines = _lines(raw)
    header = _header(next(lines, (1, []))[1])
    table, end, models = Table(), clock() + SECONDS, cache(lambda name: service.known_model(name, engine))
    for line, cells in lines:
        if not cells:  # an empty line is no row
            continue
        table.rows += 1
        if table.rows > MAX_ROWS:
            raise ImportLimitError(f"an import has at most {MAX_ROWS} rows; send the rest apart")
        if clock() > end:
            raise ImportLimitError(f"the rows took longer than {SECONDS:.0f} s; send fewer at once")
        _take(table, header, line, cells, models)
    return table


def _lines(raw: bytes) -> Iterator[tuple[int, list[str]]]:
    """Give each row with the line that it begins in."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise NotCsvError(f"the table is not UTF-8 text: byte {error.start} is wrong") from error
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    begins = 1
    try:
        for cells in reader:
            yield begins, cells
            begins = reader.line_num + 1
    except csv.Error as error:
        raise NotCsvError(f"the table is not CSV: {error}, in the row that begins in line {begins}") from error


def _header(names: Sequence[str]) -> Sequence[str]:
    wrong = [unknown("column", name, COLUMNS) for name in names if name not in COLUMNS]
    wrong += [f"the column {name} stands there twice" for name in sorted({n for n in names if names.count(n) > 1})]
    wrong += [f"the column {name} is missing" for name in NEEDED if name not in names]
    if wrong:
        raise NotCsvError(f"line 1 has to name the columns: {'; '.join(wrong)}")
    return names


def _take(
    table: Table, header: Sequence[str], line: int, cells: Sequence[str], models: Callable[[str], KnownModel]
) -> None:
    """Judge one row, and put it where it belongs."""
    if len(cells) != len(header):
        detail = f"expected {len(header)} cells, found {len(cells)}"
        table.bad.append(BadCell(line=line, cell=min(len(cells), len(header)), column=None, detail=detail))
        return
    told: dict[str, Json] = {name: active(text) for name, text in zip(header, cells, strict=True) if text}
    wrong: list[tuple[str, str]] = []
    try:
        order = parse(OrderRow, told)
    except RequestError as error:
        wrong = [(problem.pointer.removeprefix("#/").partition("/")[0], problem.message) for problem in error.problems]
    else:
        wrong = strangers(order, models)
    if wrong:
        table.bad += [
            BadCell(line=line, cell=header.index(name) + 1, column=name, detail=detail) for name, detail in wrong
        ]
        return
    kept = _cells(order)
    digest = hashlib.sha256(json.dumps(kept, sort_keys=True).encode("utf-8", "surrogatepass")).hexdigest()
    table.good.append(GoodRow(line, order, kept, digest))


def _cells(order: OrderRow) -> dict[str, Cell]:
    told = order.model_dump(exclude={"source"})
    moments = {name: told[name].isoformat() for name in ("opened_at", "closed_at") if told[name] is not None}
    return {**told, **moments}
