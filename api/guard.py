"""What every response carries and which requests are let in at all."""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import Flask, Response, request

from api.refused import Refused

MAX_BODY_BYTES = 1_000_000
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; connect-src 'self'; style-src 'self'; img-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
# A year, as https://datatracker.ietf.org/doc/html/rfc6797#section-6.1.1 shows it.
TRANSPORT = "max-age=31536000"


def install(app: Flask, hosts: frozenset[str]) -> None:
    """Check the host of every request, bound its size, and set the security headers of every response."""
    app.config["MAX_CONTENT_LENGTH"] = MAX_BODY_BYTES

    @app.before_request
    def refuse_foreign_host() -> None:
        """Refuse a request that was meant for another host."""
        if _host() not in hosts:
            raise Refused("foreign-host")

    app.after_request(_set_headers)


def _host() -> str | None:
    try:
        return urlsplit(f"//{request.environ.get('HTTP_HOST', '')}").hostname
    except ValueError:
        return None


def _set_headers(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.is_secure:
        response.headers.setdefault("Strict-Transport-Security", TRANSPORT)
    if request.endpoint != "static":
        response.headers.setdefault("Cache-Control", "no-cache")
    return response
