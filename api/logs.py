"""One line of JSON for each request and each failure, with the request's id and nothing that anybody has typed."""

from __future__ import annotations

import logging
import re
import secrets
import sys
import time
import traceback
from typing import Any, TextIO

import structlog
from flask import Flask, Response, current_app, g, request

from api.metrics import Metrics

ID = "X-Request-ID"
NOWHERE = "-"
_SANE = re.compile(r"[A-Za-z0-9._-]{1,64}")
_KEY = "advisor.log"
Log = Any  # structlog's loggers take any method name


def logger(file: TextIO) -> Log:
    """Give a logger that writes JSON, a line at a time."""
    stamp = structlog.processors.TimeStamper(fmt="iso", utc=True, key="at")
    return structlog.wrap_logger(
        structlog.WriteLogger(file),
        processors=[structlog.processors.add_log_level, stamp, structlog.processors.JSONRenderer()],
        wrapper_class=structlog.make_filtering_bound_logger(logging.INFO),
    )


def install(app: Flask, file: TextIO | None, metrics: Metrics) -> None:
    """Give every request an id, and count, time and log it; without a file nothing is logged."""
    app.extensions[_KEY] = logger(file) if file else None
    app.before_request(_begin)

    @app.after_request
    def end(response: Response) -> Response:
        """Tell the caller the id, and the log the rest."""
        seconds = time.perf_counter() - g.began
        metrics.count(request.method, route(), response.status_code, seconds)
        response.headers[ID] = g.request_id
        _write("info", "request", status=response.status_code, ms=round(1000 * seconds, 1))
        return response


def route() -> str:
    """Name the address of the request as it is written in the code, so that no id and nothing typed is in it."""
    return request.url_rule.rule if request.url_rule else NOWHERE


def failed(error: BaseException, *, told: str | None = None) -> None:
    """Log an error: its kinds and where it arose; its text, which may hold what was sent, only where it is told."""
    _write("error", "failed", kinds=_kinds(error), text=told, frames=_frames(error))


def route_libraries(file: TextIO) -> None:
    """Send what libraries log through the same form."""
    handler = logging.StreamHandler(file)
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(
            processors=[
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                structlog.processors.JSONRenderer(),
            ],
            foreign_pre_chain=[
                structlog.stdlib.add_log_level,
                structlog.stdlib.add_logger_name,
                structlog.processors.TimeStamper(fmt="iso", utc=True, key="at"),
            ],
            keep_exc_info=False,
        )
    )
    logging.basicConfig(handlers=[handler], level=logging.WARNING, force=True)


def _begin() -> None:
    g.began = time.perf_counter()
    sent = request.headers.get(ID, "")
    g.request_id = sent if _SANE.fullmatch(sent) else secrets.token_hex(8)


def _write(level: str, event: str, **more: object) -> None:
    log: Log = current_app.extensions[_KEY]
    if log is None:
        return
    caller = g.get("caller")
    shop = caller.shop if caller else ""
    known = {"request": g.get("request_id"), "method": request.method, "route": route(), "shop": shop}
    getattr(log, level)(event, **known, **{name: value for name, value in more.items() if value is not None})


def _kinds(error: BaseException) -> list[str]:
    found: list[str] = []
    seen: BaseException | None = error
    while seen is not None and len(found) < 8:
        found.append(type(seen).__qualname__)
        seen = seen.__cause__ or seen.__context__
    return found


def _frames(error: BaseException) -> list[str]:
    frames = traceback.extract_tb(error.__traceback__)[-6:]
    return [f"{frame.filename.rpartition('/')[2]}:{frame.lineno} {frame.name}" for frame in frames]


def stderr() -> TextIO:
    """Give where a server logs."""
    return sys.stderr
