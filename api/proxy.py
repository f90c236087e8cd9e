"""What a proxy says of the caller, believed only of the proxies that were named."""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

FOR, PROTO = "HTTP_X_FORWARDED_FOR", "HTTP_X_FORWARDED_PROTO"
OTHERS = (
    "HTTP_FORWARDED",
    "HTTP_X_FORWARDED_HOST",
    "HTTP_X_FORWARDED_PORT",
    "HTTP_X_FORWARDED_PREFIX",
    "HTTP_X_REAL_IP",
)


class BehindProxy:
    """A WSGI application whose proxy headers are believed from these addresses or networks, and dropped from others.

    Raises:
        ValueError: an address is none.
    """

    def __init__(self, application: WSGIApplication, proxies: Iterable[str]) -> None:
        self.application = application
        self.proxies = tuple(ipaddress.ip_network(proxy) for proxy in proxies)

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        """Answer a request, as from its real sender."""
        callers, scheme = environ.pop(FOR, ""), environ.pop(PROTO, "")
        for name in OTHERS:
            environ.pop(name, None)
        if self._is_proxy(environ.get("REMOTE_ADDR", "")):
            # What stands before the last entry came from the caller, who may write there what he likes.
            last = callers.rpartition(",")[2].strip()
            if _address(last):
                environ["REMOTE_ADDR"] = last
            if scheme in ("http", "https"):
                environ["wsgi.url_scheme"] = scheme
        return self.application(environ, start_response)

    def _is_proxy(self, text: str) -> bool:
        found = _address(text)
        return found is not None and any(found in network for network in self.proxies)


def _address(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(text)
    except ValueError:
        return None
