"""Tokens and sessions in both databases: in force, expired, revoked, and never readable."""

from datetime import timedelta

import pytest
from journals import AT
from sqlalchemy import text

from advisor.store.tokens import PREFIX, Tokens, new_secret, new_token

HOUR = timedelta(hours=1)


@pytest.fixture
def ask(store):
    """Give what asks the tokens of a store, each time in a transaction of its own."""
    return lambda name, *args: store.writing(lambda connection: getattr(Tokens(connection), name)(*args))


@pytest.fixture
def made(ask):
    """Give a token for a day and its secret."""
    token, secret = new_token("north", "anna", "technician", 1.0, AT), new_secret()
    ask("add", token, secret)
    return token, secret


def test_a_token_is_found_by_its_secret_alone(ask, made):
    """The secret gives the token back; its id, another secret and odd texts give nothing."""
    token, secret = made
    assert ask("find", secret, AT) == token
    for other in (token.id, new_secret(), secret[:-1], secret.upper(), "", "\x00", "\ud800"):
        assert ask("find", other, AT) is None
    assert ask("all") == (token,)


def test_it_ends_when_it_expires(ask, made):
    """In force up to its moment and not at it."""
    token, secret = made
    assert token.expires_at == AT + 24 * HOUR
    assert ask("find", secret, token.expires_at - timedelta(seconds=1)) == token
    assert ask("find", secret, token.expires_at) is None
    assert (ask("is_any", AT), ask("is_any", token.expires_at)) == (True, False)


def test_revoking_is_at_once_and_ends_its_sessions(ask, made):
    """After a revocation neither the token nor a session begun with it is good, and it cannot be revoked again."""
    token, secret = made
    ask("begin", "session", token.id, AT + HOUR, AT)
    assert ask("in_session", "session", AT) == token
    assert ask("revoke", token.id, AT)
    assert ask("find", secret, AT) is None
    assert ask("in_session", "session", AT) is None
    assert not ask("revoke", token.id, AT)
    assert not ask("is_any", AT)


def test_a_session_ends_by_itself_or_on_demand(ask, made):
    """A session is good for its time; ended, it is gone; begun later, those that are over are cleared away."""
    token, _ = made
    for name in ("one", "two"):
        ask("begin", name, token.id, AT + HOUR, AT)
    assert ask("in_session", "one", AT + HOUR) is None
    ask("end", "one")
    assert (ask("in_session", "one", AT), ask("in_session", "two", AT)) == (None, token)
    ask("begin", "three", token.id, AT + 3 * HOUR, AT + HOUR)
    assert ask("in_session", "two", AT) is None


def test_no_secret_is_stored(store, ask, made):
    """Nowhere in the tables does a secret stand, and a secret has 256 bits."""
    token, secret = made
    ask("begin", "adv_session", token.id, AT + HOUR, AT)
    with store._engine.connect() as connection:
        rows = [
            str(tuple(row))
            for table in ("tokens", "sessions")
            for row in connection.execute(text(f"SELECT * FROM {table}"))
        ]
    assert len(rows) == 2
    assert not [row for row in rows if secret in row or secret.removeprefix(PREFIX) in row or "adv_session" in row]
    assert len(secret.removeprefix(PREFIX)) * 6 >= 256
    assert len({new_secret() for _ in range(100)}) == 100
