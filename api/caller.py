"""Who calls: one value that every address works with."""

from __future__ import annotations

from dataclasses import dataclass

from flask import g

from advisor.cases.book import SHOP
from advisor.store.records import Token
from advisor.store.tokens import ROLES
from api.refused import Refused


@dataclass(frozen=True)
class Caller:
    """Whose cases are meant, who it is (None where nobody said), what may be done, and by which token."""

    shop: str
    name: str | None
    role: str
    token: str

    def may(self, role: str) -> bool:
        """Tell whether a role's doings are open to this one: its own, and those of the roles before it."""
        return self == LOCAL or ROLES.index(self.role) >= ROLES.index(role)


LOCAL = Caller(SHOP, None, "local", "")
"""Whoever sits at the machine itself, where no tokens are asked for; may do everything."""
NOBODY = Caller("", None, "nobody", "")
"""Whoever has not said who he is; sees what needs no token."""


def caller_of(token: Token) -> Caller:
    """Give who calls with a token."""
    return Caller(token.shop, token.name, token.role, token.id)


def caller() -> Caller:
    """Give who sent the request that is being answered."""
    known: Caller = g.caller
    return known


def demand(role: str | None, asks: Caller) -> None:
    """Refuse whoever may not do what a role may; raises Refused."""
    if role is not None and not asks.may(role):
        raise Refused("role", f"This takes a token of the role {role}; yours is {asks.role}.")
