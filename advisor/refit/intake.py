"""What a refit is given: a file of orders, or patterns that have been counted before."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pandas as pd
import pyarrow  # type: ignore[import-untyped]  # it ships no types
from pyarrow import parquet  # as above

from advisor.errors import UsageError
from advisor.knowledge.model import Model
from advisor.refit import mapping as mappings
from advisor.refit.columns import PATTERN_COLUMNS
from advisor.refit.counting import frame
from advisor.refit.patterns import patterns
from advisor.refit.reading import read_orders


@dataclass(frozen=True, eq=False)
class Intake:
    """Patterns, and how many rows they came from, how many of these were rejected and why.

    `orders` are the accepted rows; None where only their patterns are left.
    """

    patterns: pd.DataFrame
    rows: int
    rejected: int
    reasons: Mapping[str, int]
    orders: pd.DataFrame | None = None


def intake(file: Path, load: Callable[[str], Model], now: datetime, mapping: mappings.Mapping = mappings.OWN) -> Intake:
    """Read orders and count them, or read what `advisor orders patterns` has counted.

    Raises:
        UsageError: the file cannot be read, or nothing in it is accepted.
    """
    if file.suffix == ".parquet" and _counted(file):
        table = frame(parquet.read_table(file))
        return Intake(table, int(table["count"].sum()), 0, {})
    read = read_orders(file, load, now, mapping)
    if not len(read.accepted):
        raise UsageError(f"{file.name}: no order is accepted; advisor orders check says why")
    return Intake(patterns(read.accepted), read.rows, read.rejected, read.counts, read.accepted)


def _counted(file: Path) -> bool:
    try:
        return set(PATTERN_COLUMNS) <= set(parquet.read_schema(file).names)
    except OSError as error:
        raise UsageError(f"cannot read {file.name}: {error.strerror or error}") from error
    except pyarrow.ArrowInvalid as error:
        raise UsageError(f"{file.name} is no Parquet file: {error}") from error
