"""Repair orders as Parquet, where the analysts' extra is installed."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import datetime

from advisor.contract.order_cells import Cell
from advisor.contract.order_rows import COLUMNS
from advisor.errors import MissingExtraError

MOMENTS = frozenset({"opened_at", "closed_at"})
NUMBERS = frozenset({"years", "hours", "odometer_km", "parts_price", "minutes", "followed_days", "cost"})


def orders_parquet(orders: Sequence[dict[str, Cell]]) -> bytes:
    """Give orders as a Parquet file, moments and numbers as such, texts as they are; raises MissingExtraError."""
    try:
        import pyarrow  # type: ignore[import-untyped] # noqa: PLC0415 # it ships no types; serving does without it
        from pyarrow import parquet  # noqa: PLC0415 # as above
    except ModuleNotFoundError as error:
        raise MissingExtraError(
            "Parquet needs the extra analyst on the server: pip install 'advisor[analyst]'"
        ) from error
    kinds = {**dict.fromkeys(MOMENTS, pyarrow.timestamp("us", "UTC")), **dict.fromkeys(NUMBERS, pyarrow.float64())}
    schema = pyarrow.schema([(name, kinds.get(name, pyarrow.string())) for name in COLUMNS])
    columns = [[_typed(name, order.get(name)) for order in orders] for name in COLUMNS]
    arrays = [pyarrow.array(values, kind.type) for values, kind in zip(columns, schema, strict=True)]
    file = io.BytesIO()
    parquet.write_table(pyarrow.Table.from_arrays(arrays, schema=schema), file)
    return file.getvalue()


def _typed(name: str, cell: Cell) -> datetime | Cell:
    return datetime.fromisoformat(cell) if name in MOMENTS and isinstance(cell, str) else cell
