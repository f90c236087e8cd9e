"""Which addresses are for programs, and which for people."""

from __future__ import annotations

from urllib.parse import urlsplit


def is_for_programs(path: str) -> bool:
    """Tell whether an address answers in JSON or another form for programs."""
    return path.startswith("/v1") or path.endswith(".json") or path == "/metrics"


def own_path(text: str) -> str:
    """Give an address if it stays on this server, the home page otherwise.

    >>> own_path("/circuit/blower?a=b"), own_path("//elsewhere.example/"), own_path("https://elsewhere.example")
    ('/circuit/blower?a=b', '/', '/')
    """
    try:
        parts = urlsplit(text)
    except ValueError:
        return "/"
    is_own = text.startswith("/") and not text.startswith("//") and not parts.netloc and not parts.scheme
    return text if is_own and "\\" not in text and text.isprintable() else "/"
