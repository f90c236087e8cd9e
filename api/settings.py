"""How the web edge is run, as one value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TextIO

# A page of another site that points its own name at this machine still sends that name as Host.
LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})


@dataclass(frozen=True)
class Settings:
    """Whether callers need tokens, for which hosts it answers, behind which proxies, how fast, and where logs go.

    `rate` is in requests per second for each token, or for each address where there is none; 0 sets no limit.
    """

    tokens: bool = False
    hosts: frozenset[str] = LOOPBACK
    proxies: tuple[str, ...] = ()
    rate: float = 50.0
    log: TextIO | None = None
