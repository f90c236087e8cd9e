"""The commands on repair orders of any system: check a file, make a demonstration; they need the extra analyst."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.console import Console
from rich.table import Table

from advisor.engine import load, shipped_engine
from advisor.errors import MissingExtraError, UsageError
from advisor.knowledge.model import Model

if TYPE_CHECKING:
    from advisor.refit.reading import OrdersRead

SHOWN = 20
FILE = click.Path(dir_okay=False, path_type=Path)


@click.group()
def orders() -> None:
    """Check repair orders of other systems, and make invented ones."""


@orders.command("check")
@click.argument("file", type=FILE)
@click.option("--mapping", type=FILE, help="A mapping/1 file: which of its columns is which of an order.")
@click.option("--rejects", type=FILE, help="Write rejected rows here, each with its line and all reasons.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON with every reason.")
def check(file: Path, mapping: Path | None, rejects: Path | None, as_json: bool) -> int:
    """Say which rows of the CSV or Parquet FILE are accepted as orders, and why others are not."""
    _needs_analyst()
    from advisor.refit.mapping import OWN, read_mapping  # noqa: PLC0415 - an extra that serving does without
    from advisor.refit.reading import read_orders, rejects_csv  # noqa: PLC0415 - as above

    read = read_orders(file, _models(), datetime.now(UTC), read_mapping(mapping) if mapping else OWN)
    if rejects is not None:
        _write(rejects, rejects_csv(read).encode("utf-8", "backslashreplace"))
    if as_json:
        click.echo(json.dumps(_document(read), indent=2))
    else:
        _print(read)
    return 1 if read.rejected or read.reasons else 0


def _needs_analyst() -> None:
    try:
        import pandera.pandas  # noqa: F401, PLC0415 - an extra that serving does without
        import pyarrow  # type: ignore[import-untyped] # noqa: F401, PLC0415 # it ships no types
    except ModuleNotFoundError as error:
        raise MissingExtraError(f"this needs the extra analyst: pip install 'advisor[analyst]' ({error})") from error


def _models() -> Callable[[str], Model]:
    """Load circuits of the shelf by their ids, never by a path, each once."""
    shelf = shipped_engine()

    def known(name: str) -> Model:
        from advisor.contract.service import known_model  # noqa: PLC0415 - loaded when the first is asked for

        known_model(name, shelf)
        return load(name)

    return cache(known)


def _write(file: Path, raw: bytes) -> None:
    try:
        file.write_bytes(raw)
    except OSError as error:
        raise UsageError(f"cannot write {str(file)!r}: {error.strerror}") from error


def _document(read: OrdersRead) -> Mapping[str, object]:
    return {
        "file": read.file,
        "rows": read.rows,
        "accepted": len(read.accepted),
        "rejected": read.rejected,
        "reasons": read.counts,
        "errors": [
            {"line": r.line, "cell": r.cell, "column": r.column or None, "reason": r.name, "detail": r.detail}
            for r in read.reasons
        ],
    }


def _print(read: OrdersRead) -> None:
    console = Console(highlight=False, markup=False)
    console.print(f"{read.file}: {read.rows:,} rows, {len(read.accepted):,} accepted, {read.rejected:,} rejected")
    if read.counts:
        console.print(_table("Reasons", ("reason", "rows"), [(name, f"{n:,}") for name, n in read.counts.items()]))
        rows = [(f"{read.file}:{r.line}:{r.cell}", r.column, f"{r.name}: {r.detail}") for r in read.reasons[:SHOWN]]
        console.print(_table("Where", ("line and cell", "column", "what is wrong"), rows))
        if len(read.reasons) > SHOWN:
            console.print(f"... and {len(read.reasons) - SHOWN:,} more; --rejects writes them all to a file")


def _table(title: str, columns: Sequence[str], rows: Sequence[tuple[str, ...]]) -> Table:
    table = Table(title=title, title_justify="left")
    for column in columns:
        table.add_column(column, overflow="fold", justify="right" if column == "rows" else "left")
    for row in rows:
        table.add_row(*(text.encode("utf-8", "backslashreplace").decode() for text in row))
    return table
