"""The commands that look after the store of cases."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from advisor.cases.book import SHOP
from advisor.store.backup import backup as copy_out
from advisor.store.backup import restore as put_back
from advisor.store.connecting import is_file
from advisor.store.place import usual_place
from advisor.store.store import Store


@contextmanager
def _store() -> Iterator[Store]:
    opened = Store(usual_place())
    try:
        yield opened
    finally:
        opened.close()


@click.group()
def store() -> None:
    """Look after the store of cases; ADVISOR_STORE names it, a file in the user's data folder otherwise."""


@store.command()
def upgrade() -> None:
    """Make the store ready for this release."""
    with _store() as opened:
        click.echo(f"{_named(opened)} is at revision {opened.upgrade()}")


@store.command()
def check() -> None:
    """Say whether the store can be used."""
    with _store() as opened:
        click.echo(f"{_named(opened)} is at revision {opened.check()} and can be used")


@store.command()
@click.argument("case")
@click.confirmation_option(prompt="What may name a person in this case cannot be brought back. Erase it?")
def erase(case: str) -> None:
    """Erase the customer's words, names and the vehicle's identity from a case; its findings stay."""
    with _store() as opened:
        opened.write(lambda journals: journals.erase(journals.row(SHOP, case).id))
        opened.compact()
    click.echo(f"erased in case {case}; copies made before still hold it")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
def backup(file: Path) -> None:
    """Copy the store of cases into a new FILE, also while it is in use."""
    with _store() as opened:
        copy_out(opened, file, _pages)
    click.echo(f"the cases are copied to {file}")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--replace", "replaces", is_flag=True, help="Put it in the place of cases that are there.")
def restore(file: Path, replaces: bool) -> None:
    """Put the backup FILE in the place of the store of cases; cases that are there are kept aside."""
    with _store() as opened:
        kept = put_back(opened, file, _pages, replaces=replaces)
        click.echo(f"{_named(opened)} holds the cases of {file}")
    if kept:
        click.echo(f"the cases from before are in {kept}")


def _pages(done: int, count: int) -> None:
    """Tell of a long copy, on one line of a terminal."""
    if done < count and sys.stderr.isatty():
        click.echo(f"\r{done} of {count} pages", nl=False, err=True)


def _named(opened: Store) -> str:
    return opened.url.database or "" if is_file(opened.url) else opened.url.render_as_string(hide_password=True)
