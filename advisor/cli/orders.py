"""The commands on repair orders of any system: check a file, make a demonstration; they need the extra analyst."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.console import Console
from rich.table import Table

from advisor.cli.progress import progress_bar
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
@click.option("--accepted", type=FILE, help="Write accepted rows here as Parquet.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON with every reason.")
def check(file: Path, mapping: Path | None, rejects: Path | None, accepted: Path | None, as_json: bool) -> int:
    """Say which rows of the CSV or Parquet FILE are accepted as orders, and why others are not."""
    needs_analyst()
    from advisor.refit.mapping import OWN, read_mapping  # noqa: PLC0415 - an extra that serving does without
    from advisor.refit.reading import orders_parquet, read_orders, rejects_csv  # noqa: PLC0415 - as above

    read = read_orders(file, models_by_id(), datetime.now(UTC), read_mapping(mapping) if mapping else OWN)
    if rejects is not None:
        _write(rejects, rejects_csv(read).encode("utf-8", "backslashreplace"))
    if accepted is not None:
        _write(accepted, orders_parquet(read.accepted))
    if as_json:
        click.echo(json.dumps(_document(read), indent=2))
    else:
        _print(read)
    return 1 if read.rejected or read.reasons else 0


@orders.command("demo")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), required=True, help="The same seed gives the same files.")
@click.option("--orders", "count", type=click.IntRange(1, 200_000), default=5_000, show_default=True)
@click.option("-o", "--output", type=FILE, default=Path("demo-orders.csv"), show_default=True, help="The CSV file.")
def demo(seed: int, count: int, output: Path) -> None:
    """Write invented orders of an invented fleet, messy as real ones, and beside them the truth as JSON.

    They come from rates that differ from the handbook's by factors which the truth file tells.
    """
    needs_analyst()
    import numpy as np  # noqa: PLC0415 - loaded with the models

    from advisor.knowledge.shipped import shipped_models  # noqa: PLC0415 - as above
    from advisor.refit.demo import demo_orders  # noqa: PLC0415 - an extra that serving does without
    from advisor.refit.demo_mess import spoiled  # noqa: PLC0415 - as above

    if not output.parent.is_dir():  # said before the work, not after it
        raise UsageError(f"cannot write {str(output)!r}: there is no folder {str(output.parent)!r}")
    progress = progress_bar()
    made = demo_orders({name: load(name, progress=progress) for name in sorted(shipped_models())}, seed, count)
    messy = spoiled(made.rows, np.random.default_rng([seed, count, 1]))
    truth = {**made.truth, "planted": {str(line): reason for line, reason in messy.planted.items()}}
    beside = output.with_name(f"{output.stem}-truth.json")
    _write(output, messy.raw)
    _write(beside, (json.dumps(truth, indent=1) + "\n").encode())
    click.echo(
        f"{output}: {len(made.rows):,} invented orders, {len(messy.planted)} rows spoiled; the truth is in {beside}"
    )


@orders.command("patterns")
@click.argument("source", type=click.Path(path_type=Path))
@click.option("-o", "--output", type=FILE, required=True, help="The Parquet file of patterns.")
@click.option("--work", type=click.Path(file_okay=False, path_type=Path), help="Parts; OUTPUT.parts otherwise.")
@click.option("--scheduler", metavar="ADDRESS", help="Count on the workers of this Dask scheduler.")
def patterns(source: Path, output: Path, work: Path | None, scheduler: str | None) -> None:
    """Count the distinct patterns of SOURCE, a Parquet file of accepted orders or a folder of them.

    Interrupted, it goes on from the parts that are done.
    """
    needs_analyst()
    from advisor.refit.jobs import count_orders, write_patterns  # noqa: PLC0415 - an extra that serving does without

    parts = work or output.with_name(f"{output.name}.parts")
    counted = count_orders(source, parts, scheduler=scheduler, progress=progress_bar())
    write_patterns(counted, output)
    click.echo(
        f"{output}: {len(counted):,} patterns of {sum(counted['count'].to_pylist()):,} orders; parts stay in {parts}"
    )


def needs_analyst() -> None:
    """Refuse where the extra is not installed; raises MissingExtraError."""
    missing = [name for name in ("pandas", "pandera", "pyarrow") if find_spec(name) is None]
    if missing:
        raise MissingExtraError(f"{', '.join(missing)} needs the extra analyst: pip install 'advisor[analyst]'")


def models_by_id() -> Callable[[str], Model]:
    """Load circuits of the shelf by their ids, never by a path, each once."""
    shelf = shipped_engine()

    def known(name: str) -> Model:
        """The model of a circuit of the shelf."""
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
