"""Circuits that nobody has asked for yet are loaded while nobody waits for an answer."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import click
from flask import Flask, g

from advisor.contract.engine import Engine
from advisor.errors import AdvisorError

QUIET = 0.3
"""How long nobody must have been answered before a circuit is loaded [s]."""
PATIENCE = 10.0
"""How long a busy server waits for quiet before it loads the next one all the same [s]."""
_POLL = 0.05
ENGINE = "advisor.engine"
"""Where an application keeps its engine for a worker process that warms it after its fork: a thread is not forked."""


def warm(engine: Engine, wait: Callable[[], None] = lambda: None) -> None:
    """Load every circuit, waiting before each; one that is broken is told and does not stop the others."""
    for name in engine.circuits():
        wait()
        try:
            engine.load(name)
        except AdvisorError as error:
            click.echo(f"circuit {name} cannot be served: {error}", err=True)


def warm_behind(app: Flask, engine: Engine, *, quiet: float = QUIET, patience: float = PATIENCE) -> threading.Thread:
    """Do so in a thread of its own, behind the answers of an application; a circuit asked for before is loaded then."""
    asked = _Asked(app)
    thread = threading.Thread(target=warm, args=(engine, lambda: asked.wait(quiet, patience)), daemon=True)
    thread.start()
    return thread


class _Asked:
    """How many requests are being answered, and since when none is."""

    def __init__(self, app: Flask) -> None:
        self.lock, self.open, self.since = threading.Lock(), 0, time.monotonic()
        app.before_request_funcs.setdefault(None, []).insert(0, self.begin)  # whatever refuses a request comes later
        app.teardown_request(self.end)

    def begin(self) -> None:
        """Count a request."""
        g.counted = True
        with self.lock:
            self.open += 1

    def end(self, _error: BaseException | None) -> None:
        """Count it no more."""
        if g.pop("counted", False):
            with self.lock:
                self.open, self.since = self.open - 1, time.monotonic()

    def wait(self, quiet: float, patience: float) -> None:
        """Wait until nobody has been answered for so long, or for as long as patience goes [s]."""
        end = time.monotonic() + patience
        while time.monotonic() < end and (self.open or time.monotonic() - self.since < quiet):
            time.sleep(_POLL)
