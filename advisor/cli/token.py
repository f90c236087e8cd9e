"""The commands that make, list and revoke access tokens; the store's libraries are loaded when one of them runs."""

from __future__ import annotations

from datetime import UTC, datetime

import click

from advisor.cli.store import opened
from advisor.errors import UsageError

ROLES = click.Choice(["technician", "analyst", "manager"])
LONGEST_SHOP, LONGEST_NAME = 100, 60


@click.group()
def token() -> None:
    """Make, list and revoke the tokens that the server asks for when other machines reach it."""


@token.command()
@click.option("--shop", default="shop", show_default=True, help="Whose cases it opens; shops see none of each other's.")
@click.option("--role", type=ROLES, required=True, help="Technician: cases; analyst: also orders; manager: all.")
@click.option("--name", required=True, help="Who uses it: a person or a program; written beside every event.")
@click.option("--days", type=click.IntRange(1, 3650), default=365, show_default=True, help="How long it is good.")
@click.pass_context
def make(context: click.Context, shop: str, role: str, name: str, days: int) -> None:
    """Make a token and print it, this once."""
    from advisor.store.tokens import Tokens, new_secret, new_token  # noqa: PLC0415 - SQLAlchemy

    _check("--shop", shop, LONGEST_SHOP)
    _check("--name", name, LONGEST_NAME)
    secret, made = new_secret(), new_token(shop, name, role, days, datetime.now(UTC))
    opened(context).writing(lambda connection: Tokens(connection).add(made, secret))
    click.echo(f"token {made.id}: {name}, {role} of {shop}, until {made.expires_at:%Y-%m-%d}", err=True)
    click.echo(secret)


@token.command("list")
@click.pass_context
def list_tokens(context: click.Context) -> None:
    """List all tokens; what they read cannot be shown again."""
    from advisor.store.tokens import Tokens  # noqa: PLC0415 - SQLAlchemy

    now = datetime.now(UTC)
    for row in opened(context).reading(lambda connection: Tokens(connection).all()):
        if row.revoked_at:
            until = f"revoked {row.revoked_at:%Y-%m-%d}"
        else:
            until = f"{'until' if row.expires_at > now else 'expired'} {row.expires_at:%Y-%m-%d}"
        click.echo(f"{row.id}  {row.shop}  {row.role}  {row.name}  {until}")


@token.command()
@click.argument("id")
@click.pass_context
def revoke(context: click.Context, id: str) -> None:
    """Revoke the token with this ID at once, with every session that was begun with it."""
    from advisor.store.tokens import Tokens  # noqa: PLC0415 - SQLAlchemy

    if not opened(context).writing(lambda connection: Tokens(connection).revoke(id, datetime.now(UTC))):
        raise UsageError(f"no token in force has the id {id!r}; advisor token list shows them")
    click.echo(f"token {id} is revoked")


def _check(option: str, text: str, longest: int) -> None:
    if not text.strip() or len(text) > longest or not text.isprintable():
        raise UsageError(f"{option}: expected 1 to {longest} printable characters")
