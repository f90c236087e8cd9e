"""The command that learns rates from repair orders; it needs the extra analyst."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import click
from rich.console import Console

from advisor.cli.orders import models_by_id, needs_analyst
from advisor.cli.store import opened
from advisor.contract.priors import read_priors
from advisor.engine import shipped_engine
from advisor.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from advisor.knowledge.model import Model
    from advisor.refit.report import Report

FILE = click.Path(dir_okay=False, path_type=Path)


@click.command()
@click.argument("orders", type=FILE, required=False)
@click.option("--shop", help="In place of ORDERS: the closed cases and imported orders of this shop in the store.")
@click.option("--mapping", type=FILE, help="A mapping/1 file: which of its columns is which of an order.")
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), help="Write candidate and report here.")
@click.option("--name", help="Name of the candidate; refit and the last month of the orders unless given.")
@click.option("--base", type=FILE, help="A priors/1 file to begin from, in place of the handbook.")
@click.option(
    "--exposure", type=FILE, help="CSV of vehicle_group, vehicle_years in service: absolute rates beside ratios."
)
@click.option(
    "--in-force",
    multiple=True,
    type=click.Choice(("minutes", "slips")),
    help="What a release of this candidate puts in force beside its rates; the verdict does not judge it.",
)
@click.option("--seed", type=int, default=0, show_default=True, help="Of all random numbers.")
@click.option("--depth", type=click.IntRange(1, 2), default=2, show_default=True, help="How far replayed plans look.")
@click.option("--json", "as_json", is_flag=True, help="Print the candidate as JSON.")
@click.pass_context
def refit(  # noqa: PLR0913, PLR0917  one argument per option
    context: click.Context,
    orders: Path | None,
    shop: str | None,
    mapping: Path | None,
    out: Path | None,
    name: str | None,
    base: Path | None,
    exposure: Path | None,
    in_force: tuple[str, ...],
    seed: int,
    depth: int,
    as_json: bool,
) -> int:
    """Learn failure rates from the CSV or Parquet file ORDERS, and prove them on its last months.

    ORDERS may also be patterns that advisor orders patterns has counted; with --shop they are what the service exports.
    Writes a candidate for a release of priors and a report to print.  Nothing is released by this.
    """
    needs_analyst()
    years = None if exposure is None else _exposure(exposure)
    if (orders is None) == (shop is None):
        raise UsageError("give either a file of ORDERS or --shop")
    with TemporaryDirectory(prefix="advisor-orders-") as folder:
        file = orders or _exported(context, str(shop), Path(folder))
        report = _reported(file, mapping, base, name, seed, depth, years, in_force)
    if out is not None:
        _write(out, report)
    if as_json:
        click.echo(json.dumps(report.candidate, indent=1, allow_nan=False))
    else:
        _print(report, out)
    return 0


def _exported(context: click.Context, shop: str, folder: Path) -> Path:
    """Write the orders of a shop from the store into a folder, as the service exports them."""
    from advisor.cases.order_book import OrderBook  # noqa: PLC0415 - SQLAlchemy
    from advisor.contract.case_queries import OrdersQuery  # noqa: PLC0415 - only here

    book = OrderBook(opened(context), shipped_engine(), lambda: datetime.now(UTC))
    table = book.export(shop, OrdersQuery(format="parquet"))
    file = folder / "closed-cases.parquet"
    file.write_bytes(table if isinstance(table, bytes) else table.encode())
    return file


def _reported(  # noqa: PLR0913, PLR0917  what is asked for
    file: Path,
    mapping: Path | None,
    base: Path | None,
    name: str | None,
    seed: int,
    depth: int,
    years: Mapping[str, float] | None,
    in_force: Sequence[str],
) -> Report:
    from advisor.refit.candidate import Made, candidate, exposed, work  # noqa: PLC0415 - an extra that serving does without
    from advisor.refit.exposure import absolute  # noqa: PLC0415 - as above
    from advisor.refit.intake import intake  # noqa: PLC0415 - as above
    from advisor.refit.learning import Learning  # noqa: PLC0415 - as above
    from advisor.refit.mapping import OWN, read_mapping  # noqa: PLC0415 - as above
    from advisor.refit.minutes import took  # noqa: PLC0415 - as above
    from advisor.refit.report import Report  # noqa: PLC0415 - as above
    from advisor.refit.slips import slips  # noqa: PLC0415 - as above
    from advisor.refit.statements import trusts  # noqa: PLC0415 - as above

    now, load = datetime.now(UTC), models_by_id()
    came = intake(file, load, now, read_mapping(mapping) if mapping else OWN)
    counted = came.patterns
    base_name, models = _begun({str(c): load(str(c)) for c in sorted(set(counted["circuit"]))}, base)
    console = Console(stderr=True, highlight=False)
    learned = Learning(models, seed, depth=depth, say=console.print if console.is_terminal else _silent).learn(counted)
    last = max(counted["period"])
    made = Made(name or f"refit-{last}", now, seed, came.rejected, base_name)
    titles = {circuit: model.schematic.title for circuit, model in models.items()}
    slipped = slips(learned.parted.patterns, learned.shelf)
    minutes = took(came.orders, models, seed) if came.orders is not None else ()
    said = trusts(learned.parted.patterns, learned.shelf)
    told = candidate(learned, counted, models, made) | work(slipped, minutes, said, in_force)
    if years is not None:
        told |= exposed(absolute(learned, years))
    return Report(learned, counted, made, titles, told, came.rows, came.reasons, slipped, minutes, said)


def _exposure(file: Path) -> Mapping[str, float]:
    """Read the vehicle-years by group."""
    from advisor.refit.exposure import read_exposure  # noqa: PLC0415 - an extra that serving does without

    try:
        return read_exposure(file.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"cannot read {file.name}: {error}") from error


def _silent(_: str) -> None:
    """Say nothing."""


def _begun(models: Mapping[str, Model], base: Path | None) -> tuple[str, Mapping[str, Model]]:
    """Circuits under the priors to begin from."""
    if base is None:
        return next(iter(models.values())).priors, models
    try:
        release = read_priors(base.read_bytes())
    except OSError as error:
        raise UsageError(f"cannot read {base.name}: {error.strerror}") from error
    name, told = release.file.name, release.file.factors
    factors = {circuit: {cause: f.factor for cause, f in told.get(circuit, {}).items()} for circuit in models}
    return name, {circuit: model.with_priors(name, factors[circuit]) for circuit, model in models.items()}


def _write(out: Path, report: Report) -> None:
    from advisor.cli.refit_page import as_html  # noqa: PLC0415 - only where a page is asked for

    try:
        out.mkdir(parents=True, exist_ok=True)
        text = json.dumps(report.candidate, indent=1, allow_nan=False) + "\n"
        (out / "candidate.json").write_text(text, encoding="utf-8")
        (out / "report.html").write_text(as_html(report), encoding="utf-8")
    except OSError as error:
        raise UsageError(f"cannot write into {str(out)!r}: {error.strerror}") from error


def _print(report: Report, out: Path | None) -> None:
    console = Console(highlight=False, markup=False)
    orders, told = sum(report.counts.values()), report.told
    console.print(
        f"{report.made.name}: {report.rows:,} rows, {orders:,} orders accepted, {report.made.rejected:,} rejected"
    )
    console.print(f"Orders say something of {told[0]} of {told[1]} causes; the others keep the handbook's rates.")
    if report.learned.evaluation is not None:
        loss, cost, sides = report.gain("loss"), report.gain("cost"), report.sides
        console.print(
            f"Judged by {loss.orders:,.0f} confirmed orders since {report.learned.parted.first}: "
            f"log loss {sides['old']['log_loss']:.3f} before, {sides['new']['log_loss']:.3f} after "
            f"(gain {loss.mean:+.3f}, {loss.low:+.3f} to {loss.high:+.3f}); "
            f"cost to fix {sides['old']['cost']:.0f} before, {sides['new']['cost']:.0f} after "
            f"(saved {cost.mean:+.1f}, {cost.low:+.1f} to {cost.high:+.1f})."
        )
    if "exposure" not in report.candidate:
        console.print("How many vehicles are in service is not known: factors are ratios, the sum of all rates stays.")
    for mover in report.movers[:5]:
        console.print(
            f"  {mover.circuit}, {mover.cause}: times {mover.factor:.2f} ({mover.low:.2f} to {mover.high:.2f}), "
            f"{mover.events:.0f} orders"
        )
    console.print(f"Verdict: {report.learned.verdict}. {report.sentence}")
    if out is not None:
        console.print(f"Written: {out / 'candidate.json'}, {out / 'report.html'}")
