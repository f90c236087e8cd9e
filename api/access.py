"""Who is let in: callers by their token or session, as often as they may."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import quote

from flask import Flask, g, redirect, request
from werkzeug.wrappers import Response as AnyResponse

from advisor.store.records import Token
from advisor.store.store import Store
from advisor.store.tokens import Tokens
from api.caller import LOCAL, NOBODY, caller_of
from api.limits import Limits, address, check
from api.paths import is_for_programs
from api.refused import Refused

COOKIE = "advisor_session"
OPEN = frozenset({"static", "getHealth", "sign_in.form", "sign_in.enter"})
"""The endpoints that need no token."""
FREE = frozenset({"static", "getHealth"})
"""The endpoints that are not counted."""


@dataclass(frozen=True)
class Door:
    """Lets callers in: with tokens from a store, or whoever is on this machine."""

    store: Store
    limits: Limits
    tokens: bool

    def install(self, app: Flask) -> None:
        """Ask every request who sends it."""
        app.before_request(self._let_in)

    def _let_in(self) -> AnyResponse | None:
        g.caller, g.session = NOBODY if self.tokens else LOCAL, None
        if request.endpoint in FREE:
            return None
        if not self.tokens or request.endpoint in OPEN:
            check(self.limits.requests.take(address()))
            return None
        check(self.limits.requests.wait(address()))
        token = self._token()
        if token is None:
            check(self.limits.requests.take(address()))
            return _sent_away()
        g.caller = caller_of(token)
        check(self.limits.requests.take(token.id))
        return None

    def _token(self) -> Token | None:
        """Find the token of the request; sessions are for pages, so that no program is led by a browser's cookie."""
        now = datetime.now(UTC)
        if (sent := request.headers.get("Authorization")) is not None:
            scheme, _, secret = sent.partition(" ")
            if scheme.lower() != "bearer":
                return None
            return self.store.reading(lambda connection: Tokens(connection).find(secret.strip(), now))
        session = None if is_for_programs(request.path) else request.cookies.get(COOKIE)
        if session is None:
            return None
        found = self.store.reading(lambda connection: Tokens(connection).in_session(session, now))
        g.session = session if found else None
        return found


def _sent_away() -> AnyResponse:
    """Send a person to the sign-in page; raises Refused for everybody else."""
    sent = "Authorization" in request.headers
    if request.method == "GET" and not sent and not is_for_programs(request.path):
        wanted = request.full_path.rstrip("?")
        return redirect(f"/sign-in?next={quote(wanted, safe='/')}", 303)
    challenge = 'Bearer realm="advisor"' + (', error="invalid_token"' if sent else "")
    raise Refused("token-missing", headers={"WWW-Authenticate": challenge})
