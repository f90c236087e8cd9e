"""Tokens and sessions inside one transaction; secrets come in, and only their hashes are kept."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Select, delete, insert, select, update

from advisor.store import tables
from advisor.store.records import Token

PREFIX = "adv_"
SECRET_BYTES = 32
ROLES = ("technician", "analyst", "manager")
"""Each may do what those before it may, and more."""
_TOKENS, _SESSIONS = tables.TOKENS.c, tables.SESSIONS.c
_ROW = tuple(column for column in _TOKENS if column is not _TOKENS.hash)


def new_secret() -> str:
    """Give a secret of 256 random bits, marked so that it is known for what it is where it should not be."""
    return PREFIX + secrets.token_urlsafe(SECRET_BYTES)


def new_token(shop: str, name: str, role: str, days: float, now: datetime) -> Token:
    """Give a token of a role for some days; its secret is made apart."""
    return Token(secrets.token_hex(6), shop, name, role, now, now + timedelta(days=days))


class Tokens:
    """Tokens and sessions within a transaction; expired or revoked they are as if they were not there."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, token: Token, secret: str) -> None:
        """Add a token under the hash of its secret."""
        self._connection.execute(insert(tables.TOKENS), {**vars(token), "hash": _hash(secret)})

    def all(self) -> tuple[Token, ...]:
        """Give all tokens, the newest first, the revoked and expired ones too."""
        rows = self._connection.execute(select(*_ROW).order_by(_TOKENS.made_at.desc(), _TOKENS.id))
        return tuple(Token(*row) for row in rows)

    def revoke(self, id: str, now: datetime) -> bool:
        """Revoke a token from now on; tell whether one of this id was in force."""
        found = update(tables.TOKENS).where(_TOKENS.id == id, _TOKENS.revoked_at.is_(None))
        return self._connection.execute(found.values(revoked_at=now)).rowcount > 0

    def is_any(self, now: datetime) -> bool:
        """Tell whether any token is in force."""
        return self._one(select(*_ROW).limit(1), now) is not None

    def find(self, secret: str, now: datetime) -> Token | None:
        """Give the token of a secret."""
        return self._one(select(*_ROW).where(_TOKENS.hash == _hash(secret)), now)

    def begin(self, secret: str, token: str, until: datetime, now: datetime) -> None:
        """Begin a session under the hash of its own secret; sessions that have ended go."""
        self._connection.execute(delete(tables.SESSIONS).where(_SESSIONS.expires_at <= now))
        row = {"hash": _hash(secret), "token_id": token, "expires_at": until}
        self._connection.execute(insert(tables.SESSIONS), row)

    def in_session(self, secret: str, now: datetime) -> Token | None:
        """Give the token that a session was begun with."""
        joined = select(*_ROW).join(tables.SESSIONS, _SESSIONS.token_id == _TOKENS.id)
        return self._one(joined.where(_SESSIONS.hash == _hash(secret), _SESSIONS.expires_at > now), now)

    def end(self, secret: str) -> None:
        """End a session."""
        self._connection.execute(delete(tables.SESSIONS).where(_SESSIONS.hash == _hash(secret)))

    def _one(self, asked: Select[Any], now: datetime) -> Token | None:  # Any: the columns of a token, as selected
        in_force = asked.where(_TOKENS.revoked_at.is_(None), _TOKENS.expires_at > now)
        found = self._connection.execute(in_force).first()
        return Token(*found) if found else None


def _hash(secret: str) -> str:
    # 256 random bits need no slow hash: nobody guesses them, salted or not.
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
