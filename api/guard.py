"""What every response carries and which requests are let in at all."""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException

MAX_BODY_BYTES = 1_000_000
# A page of another site that points its own name at this machine still sends that name as Host.
LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # With no-referrer a browser would send forms without saying which page they come from.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class ForeignHost(HTTPException):
    """The Host header names a host that this server does not answer for."""

    code = 421


def install(app: Flask) -> None:
    """Check the host of every request, bound its size, and set the security headers of every response."""
    app.config["MAX_CONTENT_LENGTH"] = MAX_BODY_BYTES
    app.before_request(_refuse_foreign_host)
    app.after_request(_set_headers)


def is_loopback(host: str) -> bool:
    """Tell whether a host name stays on this machine."""
    return host in LOOPBACK


def _refuse_foreign_host() -> None:
    try:
        host = urlsplit(f"//{request.environ.get('HTTP_HOST', '')}").hostname
    except ValueError:
        host = None
    if not is_loopback(host or ""):
        raise ForeignHost


def _set_headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.endpoint != "static":
        response.headers.setdefault("Cache-Control", "no-cache")
    return response
