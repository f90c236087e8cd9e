"""The application for a server of several worker processes: gunicorn -c python:api.site 'api.wsgi:app(names=[...])'."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Flask

from advisor import shipped_engine
from api.app import create_app, usual_store
from api.behind import ENGINE
from api.logs import route_libraries, stderr
from api.serve import checked
from api.settings import LOOPBACK, Settings


def app(names: Sequence[str] = (), proxies: Sequence[str] = (), rate: float = 50.0) -> Flask:
    """Make the application; every caller needs a token, since nothing is known here of who can reach it.

    `names` are the hosts that it is called by, `proxies` the addresses or networks whose headers are believed, `rate`
    the requests a second [1/s] of each token or address in one process.

    Raises:
        UsageError: a proxy is no address.
    """
    route_libraries(stderr())
    engine = shipped_engine()
    made = create_app(
        engine, usual_store(), Settings(True, LOOPBACK | {*names}, checked(tuple(proxies)), rate, stderr())
    )
    made.extensions[ENGINE] = engine
    return made
