"""A small kit for JSON addresses: a table of operations is both the routes and the OpenAPI document."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from flask import Flask, Response, request
from pydantic import BaseModel

from advisor.cases.book import CaseBook, Write
from advisor.contract.body import Json
from advisor.contract.case_queries import query_values
from advisor.contract.engine import Engine
from advisor.store.tokens import ROLES
from api.caller import Caller, caller, demand
from api.refused import Refused

JSON = "application/json"
Headers = Mapping[str, str]
ANYWHERE = (421, 500)
BEHIND_TOKEN = (401, 403, 429, 503)


@dataclass(frozen=True)
class Call:
    """What an operation gets: engine, cases, who calls, body (empty on GET), path, query, how a write is asked."""

    engine: Engine
    cases: CaseBook
    caller: Caller
    body: bytes
    path: Mapping[str, str]
    query: Mapping[str, Json]
    write: Write


def _no_headers(_: BaseModel) -> Headers:
    return {}


@dataclass(frozen=True)
class Operation:
    """One method of one address: what it takes, what it gives, with which errors, to whom.

    `write` reads the headers of a write; `headers` gives those of the answer. An answer that is no JSON is a text of
    the media type.
    """

    method: str
    path: str
    id: str
    summary: str
    run: Callable[[Call], BaseModel | str]
    answer: type[BaseModel] | None
    errors: tuple[int, ...]
    request: type[BaseModel] | None = None
    parameters: Mapping[str, str] | None = None
    query: type[BaseModel] | None = None
    write: Callable[[bytes, Caller], Write] | None = None
    headers: Callable[[BaseModel], Headers] = _no_headers
    status: int = 200
    media_type: str = JSON
    role: str | None = ROLES[0]

    @property
    def statuses(self) -> tuple[int, ...]:
        """Every status of an error, those of all addresses included."""
        return tuple(sorted({*self.errors, *ANYWHERE, *(BEHIND_TOKEN if self.role else ())}))

    @property
    def rule(self) -> str:
        """The address in the notation of the router."""
        return self.path.replace("{", "<").replace("}", ">")


def json_response(answer: BaseModel) -> Response:
    """Send an answer with every digit of its numbers."""
    return Response(answer.model_dump_json(), mimetype=JSON)


def register(app: Flask, operation: Operation, engine: Engine, cases: CaseBook) -> None:
    """Give an operation its address."""

    def view(**path: str) -> Response:
        """Ask who calls, take the body, run the operation, send its answer."""
        asks = caller()
        demand(operation.role, asks)
        body = _json_body() if operation.request else b""
        query = query_values(request.args.items(multi=True)) if operation.query else {}
        write = operation.write(body, asks) if operation.write else Write(asks.shop)
        return _sent(operation, operation.run(Call(engine, cases, asks, body, path, query, write)))

    app.add_url_rule(operation.rule, operation.id, view, methods=[operation.method])


def _sent(operation: Operation, answer: BaseModel | str) -> Response:
    if isinstance(answer, str):
        return Response(answer, mimetype=operation.media_type)
    response = json_response(answer)
    response.status_code = operation.status
    response.headers.update(operation.headers(answer))
    return response


def _json_body() -> bytes:
    if request.mimetype != JSON:
        raise Refused("not-json-type")
    return request.get_data()
