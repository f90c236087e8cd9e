"""The commands that look after the store of cases; its libraries are loaded when one of them runs."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from advisor.store.store import Store


def opened(context: click.Context) -> Store:
    """Give this user's store, closed at the end of the command."""
    from advisor.store.place import usual_place  # noqa: PLC0415 - SQLAlchemy
    from advisor.store.store import Store  # noqa: PLC0415 - SQLAlchemy

    used = Store(usual_place())
    context.call_on_close(used.close)
    return used


@click.group()
def store() -> None:
    """Look after the store of cases; ADVISOR_STORE names it, a file in the user's data folder otherwise."""


@store.command()
@click.pass_context
def upgrade(context: click.Context) -> None:
    """Make the store ready for this release."""
    used = opened(context)
    click.echo(f"{used.name} is at revision {used.upgrade()}")


@store.command()
@click.pass_context
def check(context: click.Context) -> None:
    """Say whether the store can be used."""
    used = opened(context)
    click.echo(f"{used.name} is at revision {used.check()} and can be used")


@store.command()
@click.argument("case")
@click.option("--shop", default="shop", show_default=True, help="Whose case it is.")
@click.confirmation_option(prompt="What may name a person in this case cannot be brought back. Erase it?")
@click.pass_context
def erase(context: click.Context, case: str, shop: str) -> None:
    """Erase the customer's words, names and the vehicle's identity from a case; its findings stay."""
    used = opened(context)
    used.write(lambda journals: journals.erase(journals.row(shop, case).id))
    used.compact()
    click.echo(f"erased in case {case}; copies made before still hold it")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.pass_context
def backup(context: click.Context, file: Path) -> None:
    """Copy the store of cases into a new FILE, also while it is in use."""
    from advisor.store.backup import backup as copy_out  # noqa: PLC0415 - SQLAlchemy

    copy_out(opened(context), file, _pages)
    click.echo(f"the cases are copied to {file}")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--replace", "replaces", is_flag=True, help="Put it in the place of cases that are there.")
@click.pass_context
def restore(context: click.Context, file: Path, replaces: bool) -> None:
    """Put the backup FILE in the place of the store of cases; cases that are there are kept aside."""
    from advisor.store.backup import restore as put_back  # noqa: PLC0415 - SQLAlchemy

    used = opened(context)
    kept = put_back(used, file, _pages, replaces=replaces)
    click.echo(f"{used.name} holds the cases of {file}")
    if kept:
        click.echo(f"the cases from before are in {kept}")


def _pages(done: int, count: int) -> None:
    """Tell of a long copy, on one line of a terminal."""
    if done < count and sys.stderr.isatty():
        click.echo(f"\r{done} of {count} pages", nl=False, err=True)
