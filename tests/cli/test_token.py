"""The commands that make, list and revoke tokens."""

from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.cli.token import LONGEST_NAME, LONGEST_SHOP, ROLES
from advisor.store import tables, tokens
from advisor.store.store import Store


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Give a runner of commands on a store of its own."""
    monkeypatch.setenv("ADVISOR_STORE", str(tmp_path / "cases.sqlite"))
    return lambda *words: CliRunner().invoke(main, ["token", *words])


def test_a_token_is_made_shown_once_listed_and_revoked(run, tmp_path):
    """The output is the secret alone, which opens the store; the list has everything but the secret."""
    made = run("make", "--shop", "north", "--role", "analyst", "--name", "front desk", "--days", "30")
    secret = made.stdout.strip()
    assert (made.exit_code, "analyst of north" in made.stderr) == (0, True)
    store = Store(str(tmp_path / "cases.sqlite"))

    def find():
        return store.reading(lambda connection: tokens.Tokens(connection).find(secret, datetime.now(UTC)))

    found = find()
    assert (found.shop, found.role, found.name) == ("north", "analyst", "front desk")
    assert 29 <= (found.expires_at - datetime.now(UTC)).days <= 30
    listed = run("list").output
    assert found.id in listed and secret not in listed and "until" in listed
    assert run("revoke", found.id).exit_code == 0
    assert find() is None
    assert "revoked" in run("list").output
    assert run("revoke", found.id).exit_code == 2
    store.close()


@pytest.mark.parametrize(
    "words",
    [
        ("--role", "owner", "--name", "x"),
        ("--role", "analyst"),
        ("--role", "analyst", "--name", " "),
        ("--role", "analyst", "--name", "a\nb"),
        ("--role", "analyst", "--name", "x" * 61),
        ("--role", "analyst", "--name", "x", "--shop", "x" * 101),
        ("--role", "analyst", "--name", "x", "--days", "0"),
    ],
)
def test_what_is_no_token_is_refused(run, words):
    """Roles are three; names are printable and fit their column; a token lives at least a day."""
    assert run("make", *words).exit_code == 2


def test_the_command_knows_the_stores_roles_and_widths():
    """What the command takes without loading the store is what the store has."""
    assert tuple(ROLES.choices) == tokens.ROLES
    assert (tables.TOKENS.c.shop.type.length, tables.TOKENS.c.name.type.length) == (LONGEST_SHOP, LONGEST_NAME)
