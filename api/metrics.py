"""What whoever watches the server counts: requests, their times, and the times of advice, in the form of Prometheus."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest
from prometheus_client.multiprocess import MultiProcessCollector

from advisor.contract.engine import Engine

TYPE = CONTENT_TYPE_LATEST
SHARED = "PROMETHEUS_MULTIPROC_DIR"
"""Environment variable that names the folder in which several worker processes count together."""
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 10.0)


class Metrics:
    """The counters of one application."""

    def __init__(self) -> None:
        self._own = CollectorRegistry()
        self._requests = Counter(
            "advisor_requests", "Requests answered", ("method", "route", "status"), registry=self._own
        )
        self._seconds = Histogram(
            "advisor_request_seconds", "Time to answer a request", ("route",), registry=self._own, buckets=BUCKETS
        )
        self._advice = Histogram(
            "advisor_advice_seconds", "Time to decide on advice", registry=self._own, buckets=BUCKETS
        )

    def count(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count a request by its address as the code writes it and its method, so that what is kept stays small."""
        self._requests.labels(method if method in METHODS else "other", route, str(status)).inc()
        self._seconds.labels(route).observe(seconds)

    def timed(self, engine: Engine) -> Engine:
        """Give the engine with its decisions timed."""
        return replace(engine, decide=_timed(engine.decide, self._advice.observe))

    def text(self) -> bytes:
        """Give all figures; of every worker process where they count together."""
        if SHARED not in os.environ:
            return generate_latest(self._own)
        shared = CollectorRegistry()
        MultiProcessCollector(shared)  # type: ignore[no-untyped-call] # the library leaves this one untyped
        return generate_latest(shared)


def _timed(decide: Callable[..., Any], observe: Callable[[float], None]) -> Callable[..., Any]:  # Any: passed through
    def timed(*args: Any, **kwargs: Any) -> Any:  # noqa: ANN401 # Any: the engine's own arguments and answer
        """Decide, and time it, whatever comes of it."""
        began = time.perf_counter()
        try:
            return decide(*args, **kwargs)
        finally:
            observe(time.perf_counter() - began)

    return timed
