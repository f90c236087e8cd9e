"""Signing in to the pages with a token, and out again."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from flask import Blueprint, g, redirect, render_template, request
from werkzeug.wrappers import Response as AnyResponse

from advisor.store.records import Token
from advisor.store.tokens import Tokens, new_secret
from api.access import COOKIE, Door
from api.limits import address, check
from api.paths import own_path

SESSION = timedelta(hours=12)
LONGEST = 200


def blueprint(door: Door) -> Blueprint:
    """Give the addresses of signing in and out."""
    pages = Blueprint("sign_in", __name__)

    @pages.get("/sign-in")
    def form() -> AnyResponse | str:
        """Ask for a token."""
        if not door.tokens:
            return redirect("/", 303)
        return _form(request.args.get("next", "/"), is_wrong=False)

    @pages.post("/sign-in")
    def enter() -> AnyResponse | tuple[str, int]:
        """Begin a session with a token."""
        wanted, secret = request.form.get("next", "/"), request.form.get("token", "").strip()[:LONGEST]
        check(door.limits.guesses.wait(address()))
        now = datetime.now(UTC)
        token = door.store.reading(lambda connection: Tokens(connection).find(secret, now))
        if token is None:
            door.limits.guesses.take(address())
            return _form(wanted, is_wrong=True), 403
        return _begun(door, token, wanted, now)

    @pages.post("/sign-out")
    def leave() -> AnyResponse:
        """End the session."""
        session: str | None = g.session
        if session is not None:
            door.store.writing(lambda connection: Tokens(connection).end(session))
        response = redirect("/sign-in", 303)
        response.delete_cookie(COOKIE)
        return response

    return pages


def _form(wanted: str, *, is_wrong: bool) -> str:
    return render_template("sign_in.html", wanted=own_path(wanted), is_wrong=is_wrong)


def _begun(door: Door, token: Token, wanted: str, now: datetime) -> AnyResponse:
    session, until = new_secret(), min(now + SESSION, token.expires_at)
    door.store.writing(lambda connection: Tokens(connection).begin(session, token.id, until, now))
    response = redirect(own_path(wanted), 303)
    response.set_cookie(
        COOKIE, session, max_age=until - now, httponly=True, samesite="Strict", secure=request.is_secure
    )
    return response
