"""A file of orders as it lies there: its columns, its rows as texts with their lines, and rows that are none."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import pandas as pd
import pyarrow  # type: ignore[import-untyped] # it ships no types
from pyarrow import parquet

from advisor.contract.order_cells import active
from advisor.errors import OrdersFileError, Problem
from advisor.refit.mapping import Mapping

PARQUET_MAGIC = b"PAR1"
"""How a Parquet file begins: the format's own description, parquet.thrift, "File format"."""
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, order=True)
class Reason:
    """Why a row is rejected: line (the header's being 1) and cell (from 1, 0 for the row), their column, what is wrong.

    `name` is one of a few short names, `detail` says it in words.
    """

    line: int
    cell: int
    column: str
    name: str
    detail: str


@dataclass(frozen=True)
class RawTable:
    """What stands in a file of orders.

    Attributes:
        header: Names of its columns.
        cells: Texts of the rows that have as many cells as the header, by their line.
        rows: All rows in order, as they stand there: line and cells.
        broken: Why the other rows are none.
    """

    header: tuple[str, ...]
    cells: pd.DataFrame
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    broken: tuple[Reason, ...] = ()


def read_raw(path: Path, mapping: Mapping) -> RawTable:
    """Read a CSV or Parquet file, told apart by how it begins.

    Raises:
        OrdersFileError: it cannot be opened, or is a Parquet file that is damaged.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise OrdersFileError([Problem(str(path), 1, 1, f"cannot be read: {error.strerror}")]) from error
    return _parquet(path) if raw[:4] == PARQUET_MAGIC else _csv(raw, mapping)


def _parquet(path: Path) -> RawTable:
    try:
        table = parquet.read_table(path)
        texts = [_texts(column) for column in table.columns]
    except pyarrow.ArrowException as error:
        raise OrdersFileError([Problem(str(path), 1, 1, f"is no sound Parquet file: {error}")]) from error
    return _raw_table(tuple(table.column_names), list(enumerate(zip(*texts, strict=True), 2)), [])


def _texts(column: pyarrow.ChunkedArray) -> list[str]:
    return ["" if text is None else text for text in column.cast(pyarrow.string()).to_pylist()]


def _csv(raw: bytes, mapping: Mapping) -> RawTable:
    # Bytes that are no text become lone surrogates, so that only the cells which hold one are bad.
    encoding = "utf-8-sig" if mapping.encoding == "utf-8" else mapping.encoding
    text = raw.decode(encoding, "replace" if encoding == "utf-16" else "surrogateescape")
    records = _records(text, mapping.delimiter)
    first = next(records, (1, (), ""))
    rows: list[tuple[int, tuple[str, ...]]] = []
    broken = [Reason(1, 0, "", "not-csv", first[2])] if first[2] else []
    for line, cells, wrong in records:
        if cells:  # an empty line is no row
            rows.append((line, cells))
        if wrong:
            broken.append(Reason(line, 0, "", "not-csv", wrong))
    if raw[:2] in _UTF_16 and encoding != "utf-16":
        broken += [Reason(1, 0, "", "wrong-encoding", "the file begins as UTF-16 text; a mapping file can say so")]
    return _raw_table(first[1], rows, broken)


def _records(text: str, delimiter: str) -> Iterator[tuple[int, tuple[str, ...], str]]:
    """Give each row with the line that it begins in; after one that is no CSV, go on with the next line."""
    lines = list(io.StringIO(text, newline=""))
    begins = 0
    while begins < len(lines):
        reader = csv.reader(islice(lines, begins, None), delimiter=delimiter, strict=True)
        start = begins
        try:
            for cells in reader:
                yield begins + 1, tuple(cells), ""
                begins = start + reader.line_num
        except csv.Error as error:
            yield begins + 1, (lines[begins].rstrip("\r\n"),), f"this line is not CSV: {error}"
            begins += 1


def _raw_table(
    header: Sequence[str], rows: Sequence[tuple[int, tuple[str, ...]]], broken: Sequence[Reason]
) -> RawTable:
    told = {reason.line for reason in broken}
    ragged = [
        Reason(
            line, min(len(cells), len(header)), "", "ragged-row", f"expected {len(header)} cells, found {len(cells)}"
        )
        for line, cells in rows
        if len(cells) != len(header) and line not in told
    ]
    whole = {line: cells for line, cells in rows if len(cells) == len(header) and line not in told}
    columns = list(zip(*whole.values(), strict=True)) if whole else [()] * len(header)
    # By number, as a header may name a column twice.
    cells = pd.DataFrame(
        {number: pd.Series([active(text) for text in texts], dtype=object) for number, texts in enumerate(columns)}
    )
    cells.index = pd.Index(list(whole), dtype="int64")
    return RawTable(tuple(header), cells, tuple(rows), (*broken, *ragged))
