"""How many requests a caller may send: token buckets in bounded memory."""

from __future__ import annotations

import ipaddress
import threading
import time
from collections import OrderedDict
from collections.abc import Callable

from flask import request

from api.refused import Refused

MOST = 10_000
BURST_SECONDS = 4.0
"""How long a caller who was silent may send at twice the rate, roughly."""
GUESSES, GUESS_SECONDS = 10, 30.0


class Buckets:
    """A bucket for each name: `burst` requests at once, `rate` a second [1/s] after that; 0 sets no limit.

    At most `most` names are known; those seen longest ago are forgotten, as if they had been silent.
    """

    def __init__(
        self, rate: float, burst: float, most: int = MOST, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.rate, self.burst, self.most, self.clock = rate, burst, most, clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait(self, name: str) -> float:
        """Give the time until a request may be sent [s]; 0 for now."""
        with self._lock:
            return self._missing(self._now(name)[0])

    def take(self, name: str) -> float:
        """Count a request, and give the time that it came too early [s]; one that did costs nothing."""
        with self._lock:
            left, now = self._now(name)
            missing = self._missing(left)
            self._left[name] = (left if missing else left - 1.0, now)
            self._left.move_to_end(name)
            while len(self._left) > self.most:
                self._left.popitem(last=False)
            return missing

    def _now(self, name: str) -> tuple[float, float]:
        now = self.clock()
        left, at = self._left.get(name, (self.burst, now))
        return min(self.burst, left + (now - at) * self.rate), now

    def _missing(self, left: float) -> float:
        return 0.0 if left >= 1.0 or self.rate <= 0.0 else (1.0 - left) / self.rate


class Limits:
    """The limits of one server process: on requests, and on guesses at tokens in the sign-in form."""

    def __init__(self, rate: float) -> None:
        self.requests = Buckets(rate, max(1.0, rate * BURST_SECONDS))
        self.guesses = Buckets(1.0 / GUESS_SECONDS, GUESSES)


def check(seconds: float) -> None:
    """Refuse a request that came too early by a time [s]; raises Refused."""
    if seconds > 0.0:
        raise Refused("too-many", headers={"Retry-After": str(int(seconds) + 1)})


def address() -> str:
    """Name where a request comes from: an address, or the network of one home in IPv6."""
    try:
        found = ipaddress.ip_address(request.remote_addr or "")
    except ValueError:
        return "elsewhere"
    if found.version == 6:
        return str(ipaddress.ip_network((int(found) >> 64 << 64, 64)))
    return str(found)
