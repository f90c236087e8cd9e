"""Writes from pages of other sites are refused: by what the browser says, and by a secret in every form."""

from __future__ import annotations

import hmac

from flask import Flask, g, request
from markupsafe import Markup

from api.refused import Refused

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
FIELD, HEADER = "csrf", "X-CSRF-Token"


def install(app: Flask) -> None:
    """Check every write, and give forms their secret."""
    app.before_request(_refuse_cross_site)
    app.jinja_env.globals.setdefault("form_secrets", csrf_field)


def csrf_field() -> Markup:
    """Give the hidden field that a form of a session carries; nothing where there is no session."""
    session: str | None = g.get("session")
    if session is None:
        return Markup("")
    return Markup('<input type="hidden" name="{}" value="{}">').format(FIELD, csrf_token(session))


def csrf_token(session: str) -> str:
    """Give the secret of a session's forms; who knows it does not know the session."""
    return hmac.new(session.encode(), b"form", "sha256").hexdigest()


def _refuse_cross_site() -> None:
    """Refuse a write that a browser sends for another site's page; raises Refused."""
    if request.method in SAFE:
        return
    origin = request.headers.get("Origin")
    # Programs send neither header; every browser of today sends Origin with a write, and most say what site it is for.
    if origin is not None and origin != request.host_url.rstrip("/"):
        raise Refused("cross-site")
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise Refused("cross-site")
    session: str | None = g.get("session")
    if session is not None:
        sent = request.headers.get(HEADER) or request.form.get(FIELD, "")
        if not hmac.compare_digest(sent.encode(), csrf_token(session).encode()):
            raise Refused("cross-site", "The form is from an earlier session; load the page again.")
