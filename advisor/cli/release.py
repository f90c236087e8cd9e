"""The commands about releases of priors: added, compared, put in force, taken back."""

from __future__ import annotations

import getpass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from advisor.cli.shelf import engine_of
from advisor.cli.store import opened

if TYPE_CHECKING:
    from advisor.cases.release_book import ReleaseBook
    from advisor.contract.frozen import Answered
    from advisor.contract.release_answer import ComparedOut

MOST_SHOWN = 20
FOR_SHOP = click.option("--shop", default="", help="For this shop alone; for all shops otherwise.")
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@click.group()
def release() -> None:
    """Keep releases of priors: what repair orders have taught, put in force or taken back, for one shop or for all."""


@release.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@FOR_SHOP
@click.pass_context
def add(context: click.Context, file: Path, shop: str) -> None:
    """Add a release from the FILE that a refit has written; it is not in force yet."""
    from advisor.cases.release_words import line  # noqa: PLC0415 - SQLAlchemy
    from advisor.contract.priors import read_priors  # noqa: PLC0415 - as above

    row = _book(context).add(read_priors(file.read_bytes()), engine_of(context), shop, _who())
    click.echo(line(row).priors)


@release.command("list")
@FOR_SHOP
@AS_JSON
@click.pass_context
def list_releases(context: click.Context, shop: str, *, as_json: bool) -> None:
    """List the releases that there are, and what is in force."""
    from advisor.cases.release_words import listed  # noqa: PLC0415 - SQLAlchemy

    found = listed(_book(context), shop)
    if as_json:
        _print(found)
        return
    for row in found.releases:
        click.echo(f"{row.priors}  {row.scope}  {row.at:%Y-%m-%d %H:%M}  {row.by}  {row.verdict or 'not judged'}")
    since = f" since {found.in_force.since:%Y-%m-%d %H:%M}" if found.in_force.since else ""
    click.echo(f"in force: {found.in_force.priors}{since}")


@release.command()
@click.argument("id")
@FOR_SHOP
@AS_JSON
@click.pass_context
def show(context: click.Context, id: str, shop: str, *, as_json: bool) -> None:
    """Show the release with this ID: where it comes from, how it was judged, which rates it moves most."""
    from advisor.cases.release_words import rates_of, side_by_side, whole  # noqa: PLC0415 - SQLAlchemy
    from advisor.contract.rates import Rates  # noqa: PLC0415 - as above

    book = _book(context)
    row = whole(book.find(id, shop))
    if as_json:
        _print(row)
        return
    click.echo(f"{row.priors}, added {row.at:%Y-%m-%d %H:%M} by {row.by}, {row.scope}")
    click.echo(f"id: {row.id}")
    click.echo(f"verdict: {row.verdict or 'not judged'}")
    _moves(side_by_side(Rates(), rates_of(book, id, shop)))


@release.command()
@click.argument("before")
@click.argument("after")
@FOR_SHOP
@AS_JSON
@click.pass_context
def compare(context: click.Context, before: str, after: str, shop: str, *, as_json: bool) -> None:
    """Compare two releases, BEFORE and AFTER; handbook-1 names the library's own priors."""
    from advisor.cases.release_words import rates_of, side_by_side  # noqa: PLC0415 - SQLAlchemy

    book = _book(context)
    found = side_by_side(rates_of(book, before, shop), rates_of(book, after, shop))
    if as_json:
        _print(found)
    else:
        _moves(found)


@release.command()
@click.argument("id")
@FOR_SHOP
@click.pass_context
def activate(context: click.Context, id: str, shop: str) -> None:
    """Put the release with this ID in force, at once and without a restart; open cases keep to theirs."""
    book = _book(context)
    book.activate(id, shop, _who())
    click.echo(f"in force: {book.rates(shop).name}")


@release.command()
@FOR_SHOP
@click.pass_context
def rollback(context: click.Context, shop: str) -> None:
    """Put in force again what was so before."""
    book = _book(context)
    book.roll_back(shop, _who())
    click.echo(f"in force: {book.rates(shop).name}")


def _book(context: click.Context) -> ReleaseBook:
    from advisor.cases.release_book import ReleaseBook  # noqa: PLC0415 - SQLAlchemy

    return ReleaseBook(opened(context), lambda: datetime.now(UTC))


def _who() -> str:
    return getpass.getuser()


def _print(answer: Answered) -> None:
    click.echo(answer.model_dump_json())


def _moves(found: ComparedOut) -> None:
    click.echo(f"rates, {found.before} -> {found.after}:")
    for row in found.moved[:MOST_SHOWN]:
        click.echo(f"  x {row.ratio:<6.2f} {row.circuit}  {row.cause}  ({row.before:.2f} -> {row.after:.2f})")
    if len(found.moved) > MOST_SHOWN:
        click.echo(f"  and {len(found.moved) - MOST_SHOWN} more; --json has all")
    for what, rows in (("minutes", found.minutes), ("slips", found.slips)):
        for each in rows:
            before, after = ("library" if x is None else f"{x:.3g}" for x in (each.before, each.after))
            click.echo(f"  {what}, {each.name}  ({before} -> {after})")
    if not (found.moved or found.minutes or found.slips):
        click.echo("  no difference")
