"""The factory of the web application."""

from __future__ import annotations

from datetime import UTC, datetime

from flask import Flask, Response, jsonify

from advisor.cases.book import CaseBook
from advisor.contract.engine import Engine
from advisor.store.place import usual_place
from advisor.store.store import Store
from api import failures, forms, guard, pages
from api.kit import register
from api.openapi import DOCUMENT_PATH, document
from api.v1 import OPERATIONS


def usual_store() -> Store:
    """Give the store of this user; nothing is opened yet."""
    return Store(usual_place())


def create_app(engine: Engine, store: Store | None = None) -> Flask:
    """Make the application over an engine and a store, this user's if none; it answers for loopback hosts only.

    The store is not opened before a case is asked for.
    """
    app = Flask("api", static_folder="static", template_folder="templates")
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    guard.install(app)
    failures.install(app)
    forms.install(app)
    cases = CaseBook(store or usual_store(), engine, lambda: datetime.now(UTC))
    for operation in OPERATIONS:
        register(app, operation, engine, cases)
    described = document(OPERATIONS)

    @app.get(DOCUMENT_PATH, endpoint="openapi")
    def openapi() -> Response:
        """Give the description of the API."""
        return jsonify(described)

    app.register_blueprint(pages.blueprint(cases))
    return app
