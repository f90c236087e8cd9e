"""A small kit for JSON addresses: a table of operations is both the routes and the OpenAPI document."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from flask import Flask, Response, request
from pydantic import BaseModel
from werkzeug.exceptions import UnsupportedMediaType

from advisor.contract.engine import Engine

JSON = "application/json"


@dataclass(frozen=True)
class Call:
    """What an operation gets: the engine, the body (empty on GET), the parameters of the path."""

    engine: Engine
    body: bytes
    path: Mapping[str, str]


@dataclass(frozen=True)
class Operation:
    """One method of one address: what it takes, what it gives, with which errors."""

    method: str
    path: str
    id: str
    summary: str
    run: Callable[[Call], BaseModel]
    answer: type[BaseModel]
    errors: tuple[int, ...]
    request: type[BaseModel] | None = None
    parameters: Mapping[str, str] | None = None

    @property
    def rule(self) -> str:
        """The address in the notation of the router."""
        return self.path.replace("{", "<").replace("}", ">")


def json_response(answer: BaseModel) -> Response:
    """Send an answer with every digit of its numbers."""
    return Response(answer.model_dump_json(), mimetype=JSON)


def register(app: Flask, operation: Operation, engine: Engine) -> None:
    """Give an operation its address."""

    def view(**path: str) -> Response:
        """Take the body, run the operation, send its answer."""
        body = _json_body() if operation.request else b""
        return json_response(operation.run(Call(engine, body, path)))

    app.add_url_rule(operation.rule, operation.id, view, methods=[operation.method])


def _json_body() -> bytes:
    if request.mimetype != JSON:
        raise UnsupportedMediaType
    return request.get_data()
