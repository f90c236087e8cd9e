"""The factory of the web application."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache

from flask import Flask, Response, jsonify

from advisor.cases.book import CaseBook
from advisor.cases.planning import Planner
from advisor.contract.engine import Engine
from advisor.store.place import usual_place
from advisor.store.store import Store
from api import csrf, failures, guard, logs, pages, sign_in
from api.access import Door
from api.caller import caller, demand
from api.kit import register
from api.limits import Limits
from api.metrics import TYPE, Metrics
from api.openapi import DOCUMENT_PATH, Node, document
from api.proxy import BehindProxy
from api.settings import Settings
from api.v1 import OPERATIONS


def usual_store() -> Store:
    """Give the store of this user; nothing is opened yet."""
    return Store(usual_place())


def create_app(engine: Engine, store: Store | None = None, settings: Settings | None = None) -> Flask:
    """Make the application over an engine and a store, this user's if none; without settings for loopback only.

    The store is not opened before a case is asked for.
    """
    used, metrics, kept = settings or Settings(), Metrics(), store or usual_store()
    app = Flask("api", static_folder="static", template_folder="templates")
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    door = Door(kept, Limits(used.rate), used.tokens)
    # In this order: a request has its id before it can be refused, and is for us before anybody is asked who sent it.
    logs.install(app, used.log, metrics)
    guard.install(app, used.hosts)
    door.install(app)
    csrf.install(app)
    failures.install(app)
    _programs(app, metrics.timed(engine), kept, metrics)
    app.register_blueprint(pages.blueprint(metrics.timed(engine)))
    app.register_blueprint(sign_in.blueprint(door))
    app.wsgi_app = BehindProxy(app.wsgi_app, used.proxies)  # type: ignore[method-assign] # as Flask tells to wrap it
    return app


def _programs(app: Flask, engine: Engine, store: Store, metrics: Metrics) -> None:
    """Add what programs use: the operations, their description, the figures."""
    cases = CaseBook(store, engine, lambda: datetime.now(UTC))
    planner = Planner()
    for operation in OPERATIONS:
        register(app, operation, cases, planner)

    @cache
    def described() -> Node:
        """Describe the operations once, when somebody asks."""
        return document(OPERATIONS)

    @app.get(DOCUMENT_PATH, endpoint="openapi")
    def openapi() -> Response:
        """Give the description of the API."""
        return jsonify(described())

    @app.get("/metrics")
    def figures() -> Response:
        """Give the figures, to a manager's token or on this machine."""
        demand("manager", caller())
        return Response(metrics.text(), content_type=TYPE)
