"""Patterns of many orders, column by column: what `patterns` does, for tables that are larger than memory."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow  # type: ignore[import-untyped] # it ships no types
from pyarrow import compute, parquet

from advisor.refit.columns import HOURS, PATTERN_COLUMNS, PATTERN_TEXTS, YEARS
from advisor.refit.patterns import CANONICAL, KEYS, band_middles, followed_bands

ROWS_AT_ONCE = 500_000
"""So many rows are in memory at once."""
WAITING_ROWS = 2_000_000
"""So many counted rows may wait before they are counted together."""
_LARGEST_CODE = 2**62
_TEXT = pyarrow.dictionary(pyarrow.int32(), pyarrow.string())
SCHEMA = pyarrow.schema(
    [(name, _TEXT) for name in PATTERN_TEXTS]
    + [("followed_days", pyarrow.int64()), ("years", pyarrow.float64()), ("hours", pyarrow.float64())]
    + [("count", pyarrow.int64())]
)
"""A table of patterns in memory and in a file: each distinct text once."""


def count_file(path: Path) -> pyarrow.Table:
    """Count the patterns of one Parquet file of orders, some rows at a time; schema `SCHEMA`."""
    return merged(_batches(path))


def count_tables(tables: Iterable[pyarrow.Table]) -> pyarrow.Table:
    """Count the patterns of tables of orders."""
    return merged(reduced(as_patterns(table)) for table in tables)


def merged(counted: Iterable[pyarrow.Table]) -> pyarrow.Table:
    """Add up tables of patterns, sorted by all columns but the count."""
    waiting: list[pyarrow.Table] = [SCHEMA.empty_table()]
    for table in counted:
        waiting.append(table)
        if sum(len(each) for each in waiting) > max(WAITING_ROWS, 2 * len(waiting[0])):
            waiting = [_together(waiting)]
    return _together(waiting)


def frame(table: pyarrow.Table) -> pd.DataFrame:
    """Give a table of patterns as the frame that `patterns` gives."""
    plain = table.select(PATTERN_COLUMNS).to_pydict()
    kinds = {**dict.fromkeys(PATTERN_TEXTS, "str"), "years": "float64", "hours": "float64"}
    return pd.DataFrame({name: pd.Series(plain[name], dtype=kinds.get(name, "int64")) for name in PATTERN_COLUMNS})


def _batches(path: Path) -> Iterator[pyarrow.Table]:
    wanted = {*CANONICAL, "followed_days", "years", "hours", "closed_at"}
    names = [name for name in parquet.read_schema(path).names if name in wanted]
    with parquet.ParquetFile(path, read_dictionary=[name for name in names if name in CANONICAL]) as file:
        for batch in file.iter_batches(batch_size=ROWS_AT_ONCE, columns=names):
            yield reduced(as_patterns(pyarrow.Table.from_batches([batch])))


def as_patterns(orders: pyarrow.Table) -> pyarrow.Table:
    """Write each order as a pattern of count 1: texts alike, numbers in bands."""
    columns = {name: _alike(_column(orders, name), make) for name, make in CANONICAL.items()}
    columns["period"] = _periods(_column(orders, "closed_at"))
    columns["followed_days"] = pyarrow.array(followed_bands(_numbers(_column(orders, "followed_days"))))
    columns["years"] = pyarrow.array(band_middles(_numbers(_column(orders, "years")), YEARS))
    columns["hours"] = pyarrow.array(band_middles(_numbers(_column(orders, "hours")), HOURS))
    columns["count"] = pyarrow.array(np.ones(len(orders), dtype=np.int64))
    return pyarrow.table({name: columns[name] for name in SCHEMA.names}, schema=SCHEMA)


def reduced(table: pyarrow.Table) -> pyarrow.Table:
    """Add up the counts of equal patterns, sorted by all other columns.

    Every column becomes ranks of its distinct values, and all ranks of a row one number, the first column weighing
    most; so the numbers stand in the order of the rows. Where they would grow too large, they are ranked themselves.
    """
    code, size = np.zeros(len(table), dtype=np.int64), 1
    for name in KEYS:
        ranks, distinct = _ranks(table[name])
        if size * distinct > _LARGEST_CODE:
            known, code = np.unique(code, return_inverse=True)
            size = len(known)
        code, size = code * distinct + ranks, size * distinct
    _, first, inverse = np.unique(code, return_index=True, return_inverse=True)
    counts = np.bincount(inverse, table["count"].to_numpy(), len(first)).astype(np.int64)  # exact below 2**53
    at = SCHEMA.names.index("count")
    return table.take(pyarrow.array(first)).set_column(at, SCHEMA.field(at), pyarrow.array(counts))


def _together(tables: list[pyarrow.Table]) -> pyarrow.Table:
    return reduced(pyarrow.concat_tables(tables).unify_dictionaries().combine_chunks())


def _column(orders: pyarrow.Table, name: str) -> pyarrow.Array:
    if name not in orders.column_names:
        return pyarrow.nulls(len(orders), pyarrow.string())
    column = orders[name].unify_dictionaries().combine_chunks()
    return column.combine_chunks() if isinstance(column, pyarrow.ChunkedArray) else column


def _alike(column: pyarrow.Array, make: Callable[[str], str]) -> pyarrow.DictionaryArray:
    """Rewrite each distinct text once; two that become the same become one."""
    coded = column if pyarrow.types.is_dictionary(column.type) else column.cast(pyarrow.string()).dictionary_encode()
    written = [make(str(text).strip()) for text in coded.dictionary.to_pylist()]
    return _encoded([*written, ""], coded.indices.fill_null(len(written)).to_numpy(zero_copy_only=False))


def _encoded(texts: list[str], indices: np.ndarray) -> pyarrow.DictionaryArray:
    place = {text: number for number, text in enumerate(sorted(set(texts)))}
    where = np.array([place[text] for text in texts], dtype=np.int32)
    return pyarrow.DictionaryArray.from_arrays(where[indices], pyarrow.array(list(place), pyarrow.string()))


def _periods(closed_at: pyarrow.Array) -> pyarrow.DictionaryArray:
    """The month of each moment, UTC, "" where there is none."""
    if not pyarrow.types.is_timestamp(closed_at.type):
        moments = pd.to_datetime(closed_at.to_pandas(), utc=True, format="ISO8601")
        closed_at = pyarrow.array(moments, pyarrow.timestamp("us", "UTC"))
    months = closed_at.to_numpy(zero_copy_only=False).astype("datetime64[M]")
    known, inverse = np.unique(months, return_inverse=True)
    return _encoded(["" if np.isnat(month) else str(month) for month in known], inverse)


def _numbers(column: pyarrow.Array) -> np.ndarray:
    if pyarrow.types.is_string(column.type) or pyarrow.types.is_large_string(column.type):
        column = compute.if_else(compute.equal(column, ""), None, column)
    return np.asarray(column.cast(pyarrow.float64()).fill_null(np.nan).to_numpy(zero_copy_only=False))


def _ranks(column: pyarrow.ChunkedArray) -> tuple[np.ndarray, int]:
    """Give the rank of each value among the distinct ones, NaN last, and how many there are."""
    known = column if pyarrow.types.is_dictionary(column.type) else column.dictionary_encode()
    coded = known.unify_dictionaries().combine_chunks()
    if isinstance(coded, pyarrow.ChunkedArray):  # of no chunk
        return np.zeros(0, dtype=np.int64), 1
    rank = np.empty(len(coded.dictionary), dtype=np.int64)
    rank[compute.array_sort_indices(coded.dictionary).to_numpy()] = np.arange(len(rank))
    return rank[coded.indices.to_numpy()], max(len(rank), 1)
