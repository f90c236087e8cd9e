"""Orders of a file: which rows are accepted, and for every other one all reasons why not."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pandas as pd

from advisor.contract.order_cells import inert
from advisor.knowledge.model import Model
from advisor.refit.checking import check
from advisor.refit.mapped import header_problems, meant
from advisor.refit.mapping import OWN, Mapping
from advisor.refit.raw_table import RawTable, Reason, read_raw


@dataclass(frozen=True)
class OrdersRead:
    """What became of a file of orders.

    Attributes:
        file: Its name.
        accepted: Columns of order/1, by the line that each row begins in; numbers and moments as such.
        raw: All that stands in the file.
        reasons: Why rows are rejected, and what is wrong with the header; in the order of lines.
    """

    file: str
    accepted: pd.DataFrame
    raw: RawTable
    reasons: tuple[Reason, ...]

    @property
    def rows(self) -> int:
        """Rows in the file, the header and empty lines left out."""
        return len(self.raw.rows)

    @property
    def rejected(self) -> int:
        """Rows that were not accepted."""
        return self.rows - len(self.accepted)

    @property
    def counts(self) -> dict[str, int]:
        """By the short name of a reason, in how many rows it was given; the most frequent first."""
        counted = Counter(name for _, name in {(reason.line, reason.name) for reason in self.reasons})
        return dict(sorted(counted.items(), key=lambda item: (-item[1], item[0])))


def read_orders(path: Path, load: Callable[[str], Model], now: datetime, mapping: Mapping = OWN) -> OrdersRead:
    """Read and check a CSV or Parquet file of orders.

    Args:
        path: The file.
        load: Gives the model of a circuit.
        now: After which no order can have been closed [UTC].
        mapping: How its columns become ours.

    Raises:
        OrdersFileError: it cannot be read at all.
    """
    raw = read_raw(path, mapping)
    broken = [reason for reason in raw.broken if reason.line > 1]
    wrong = [reason for reason in raw.broken if reason.line == 1] + header_problems(raw.header, mapping)
    if wrong:
        unread = [Reason(line, 0, "", "no-columns", "the columns are not known, see line 1") for line, _ in raw.rows]
        nothing = meant(RawTable((), raw.cells.iloc[:0], ()), OWN).orders
        return OrdersRead(path.name, nothing, raw, tuple(sorted([*wrong, *unread])))
    read = meant(raw, mapping)
    reasons = check(read, load, now)
    good = ~read.orders.index.isin([reason.line for reason in reasons])
    return OrdersRead(path.name, read.orders[good], raw, tuple(sorted([*broken, *reasons])))


def rejects_csv(read: OrdersRead) -> str:
    """Give the rejected rows as CSV: line, all reasons in one cell, then the cells as they stand in the file.

    What a row has beyond its header is in the last cells, under no name.
    """
    reasons: dict[int, list[str]] = {}
    for reason in read.reasons:
        place = f"{reason.column}: " if reason.column else ""
        reasons.setdefault(reason.line, []).append(f"{place}{reason.name}: {reason.detail}")
    bad = [(line, cells) for line, cells in read.raw.rows if line in reasons]
    most = max((len(cells) for _, cells in bad), default=0)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(["line", "reasons", *map(inert, read.raw.header), *[""] * (most - len(read.raw.header))])
    for line, cells in bad:
        writer.writerow([line, inert("; ".join(reasons[line])), *map(inert, cells)])
    return text.getvalue()


def orders_parquet(orders: pd.DataFrame) -> bytes:
    """Give accepted orders as a Parquet file, moments and numbers as such."""
    file = io.BytesIO()
    orders.to_parquet(file, index=False)
    return file.getvalue()
