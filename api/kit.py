"""A small kit for JSON addresses: a table of operations is both the routes and the OpenAPI document."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from flask import Flask, Response, request
from pydantic import BaseModel

from advisor.cases.book import CaseBook, Write
from advisor.cases.planning import Planner
from advisor.contract.body import Json
from advisor.contract.case_queries import query_values
from advisor.contract.engine import Engine
from advisor.store.tokens import ROLES
from api.caller import Caller, caller, demand
from api.guard import MAX_BODY_BYTES
from api.refused import Refused

JSON = "application/json"
Headers = Mapping[str, str]
ANYWHERE = (421, 500)
BEHIND_TOKEN = (401, 403, 429, 503)


@dataclass(frozen=True)
class Call:
    """What an operation gets: the domain, who calls, body (empty on GET), path, query, and how a write is asked.

    `prefers` is that of its media types which the caller's `Accept` names first, the usual one if none.
    """

    engine: Engine
    cases: CaseBook
    planner: Planner
    caller: Caller
    body: bytes
    path: Mapping[str, str]
    query: Mapping[str, Json]
    write: Write
    prefers: str


@dataclass(frozen=True)
class Sent:
    """An answer that is no JSON."""

    content: str | bytes
    media_type: str


def _no_headers(_: BaseModel) -> Headers:
    return {}


@dataclass(frozen=True)
class Operation:
    """One method of one address: what it takes, what it gives, with which errors, to whom.

    `write` reads the headers of a write; `headers` gives those of the answer. `takes` and `gives` name the forms of
    bodies that are no JSON; such a body may have up to `largest` bytes. `rates` asks for
    the engine under the priors that are in force for the caller's shop.
    """

    method: str
    path: str
    id: str
    summary: str
    run: Callable[[Call], BaseModel | Sent]
    answer: type[BaseModel] | None
    errors: tuple[int, ...]
    request: type[BaseModel] | None = None
    parameters: Mapping[str, str] | None = None
    query: type[BaseModel] | None = None
    write: Callable[[bytes, Caller], Write] | None = None
    headers: Callable[[BaseModel], Headers] = _no_headers
    status: int = 200
    takes: str | None = None
    gives: tuple[str, ...] = (JSON,)
    largest: int = MAX_BODY_BYTES
    role: str | None = ROLES[0]
    more: str | None = None
    rates: bool = False

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


def register(app: Flask, operation: Operation, cases: CaseBook, planner: Planner) -> None:
    """Give an operation its address."""

    def view(**path: str) -> Response:
        """Ask who calls, take the body, run the operation, send its answer."""
        asks = caller()
        demand(operation.role, asks)
        body = _body(operation)
        query = query_values(request.args.items(multi=True)) if operation.query else {}
        engine = cases.engine_now(asks.shop) if operation.rates else cases.engine
        write = operation.write(body, asks) if operation.write else Write(asks.shop)
        prefers = request.accept_mimetypes.best_match(operation.gives, operation.gives[0])
        return _sent(operation, operation.run(Call(engine, cases, planner, asks, body, path, query, write, prefers)))

    app.add_url_rule(operation.rule, operation.id, view, methods=[operation.method])


def _sent(operation: Operation, answer: BaseModel | Sent) -> Response:
    if isinstance(answer, Sent):
        return Response(answer.content, mimetype=answer.media_type, headers={"Vary": "Accept"})
    response = json_response(answer)
    response.status_code = operation.status
    response.headers.update(operation.headers(answer))
    return response


def _body(operation: Operation) -> bytes:
    """Take the body in the form that the operation takes; raises Refused."""
    if operation.request is None and operation.takes is None:
        return b""
    if request.mimetype != (operation.takes or JSON):
        raise Refused("not-csv-type" if operation.takes else "not-json-type")
    request.max_content_length = operation.largest
    return request.get_data()
