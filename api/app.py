"""The factory of the web application."""

from __future__ import annotations

from flask import Flask, Response, jsonify

from advisor.contract.engine import Engine
from api import failures, guard, pages
from api.kit import register
from api.openapi import DOCUMENT_PATH, document
from api.v1 import OPERATIONS


def create_app(engine: Engine) -> Flask:
    """Make the application over an engine; it answers for loopback hosts only."""
    app = Flask("api", static_folder="static", template_folder="templates")
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    guard.install(app)
    failures.install(app)
    for operation in OPERATIONS:
        register(app, operation, engine)
    described = document(OPERATIONS)

    @app.get(DOCUMENT_PATH, endpoint="openapi")
    def openapi() -> Response:
        """Give the description of the API."""
        return jsonify(described)

    app.register_blueprint(pages.blueprint(engine))
    return app
