"""The OpenAPI 3.1 document, made from the operations and their own types."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import JsonSchemaMode, models_json_schema

from advisor.contract.case_answer import CaseOut
from advisor.contract.order_rows import COLUMNS, MAX_BYTES, MAX_ROWS, NEEDED
from advisor.contract.problem import KINDS, MEDIA_TYPE, Problem, StaleProblem
from advisor.contract.version import ENGINE_VERSION
from advisor.store.tokens import ROLES
from api.conditions import KEY, SEEN, changing
from api.kit import ANYWHERE, BEHIND_TOKEN, JSON, Operation

DOCUMENT_PATH = "/v1/openapi.json"
REFERENCE = "#/components/schemas/{model}"
TABLE = (
    f"A table whose first line names its columns, of {', '.join(COLUMNS)}; {', '.join(NEEDED)} are needed. "
    f"At most {MAX_ROWS:,} rows and {MAX_BYTES // 1_000_000} MB. Nothing that names a person belongs in it."
)
EXAMPLE = "reference,circuit,closed_at,symptom\r\nA-17,belt-reminder,2026-03-02T10:00:00Z,lamp-stays-dark\r\n"
SCHEME = "token"
BEARER = {
    "type": "http",
    "scheme": "bearer",
    "description": "A token made by: advisor token make. On the machine itself none is needed.",
}
STALE = 412
LATER = (429, 503)
"""Statuses of answers that say when to try again."""
Node = dict[str, Any]  # Any: a JSON document has no one shape


def document(operations: Iterable[Operation]) -> Node:
    """Describe the operations; every error is a problem document."""
    listed = tuple(operations)
    paths: Node = {}
    for operation in listed:
        paths.setdefault(operation.path, {})[operation.method.lower()] = _operation(operation)
    paths[DOCUMENT_PATH] = {"get": _own()}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Advisor for vehicle electrical complaints",
            "version": ENGINE_VERSION,
            "summary": "From findings to ranked causes and the worth of each next test",
        },
        "paths": paths,
        "components": {"schemas": _schemas(listed), "securitySchemes": {SCHEME: BEARER}},
        "security": [{SCHEME: []}],
    }


def _schemas(operations: tuple[Operation, ...]) -> Node:
    wanted: list[tuple[type[BaseModel], JsonSchemaMode]] = [
        (Problem, "serialization"),
        (StaleProblem, "serialization"),
    ]
    for operation in operations:
        if operation.answer:
            wanted.append((operation.answer, "serialization"))
        if operation.request:
            wanted.append((operation.request, "validation"))
    _, schema = models_json_schema(wanted, ref_template=REFERENCE)
    definitions: Node = schema["$defs"]
    return definitions


def _operation(operation: Operation) -> Node:
    described: Node = {
        "operationId": operation.id,
        "summary": operation.summary,
        "responses": {str(operation.status): _answer(operation), **_errors(operation.statuses)},
    }
    if operation.role is None:
        described["security"] = []
    elif operation.role != ROLES[0]:
        described["description"] = f"For tokens of the role {operation.role}."
    if operation.more:
        described["description"] = operation.more
    if operation.request:
        described["requestBody"] = {"required": True, **_content(None, JSON, operation.request)}
    if operation.takes:
        table = {"schema": {"type": "string"}, "example": EXAMPLE}
        described["requestBody"] = {"required": True, "description": TABLE, "content": {operation.takes: table}}
    if parameters := [*_path(operation), *_query(operation), *_headers(operation)]:
        described["parameters"] = parameters
    return described


def _answer(operation: Operation) -> Node:
    if operation.answer is None:
        plain = {"schema": {"type": "string"}}
        return {"description": "The answer", "content": dict.fromkeys(operation.gives, plain)}
    described = _content("The answer", JSON, operation.answer)
    if operation.answer is CaseOut:
        described["headers"] = {"ETag": {"description": "the version of the case", "schema": {"type": "string"}}}
    return described


def _path(operation: Operation) -> Iterable[Node]:
    for name, text in (operation.parameters or {}).items():
        yield {"name": name, "in": "path", "required": True, "description": text, "schema": {"type": "string"}}


def _query(operation: Operation) -> Iterable[Node]:
    known: Node = operation.query.model_json_schema()["properties"] if operation.query else {}
    for name, schema in known.items():
        yield {"name": name, "in": "query", "description": schema.pop("description"), "schema": schema}


def _headers(operation: Operation) -> Iterable[Node]:
    if operation.write is changing:
        yield {
            "name": SEEN,
            "in": "header",
            "required": True,
            "description": "ETag of the version that was seen",
            "schema": {"type": "string"},
        }
    if operation.write:
        yield {
            "name": KEY,
            "in": "header",
            "description": "a key of the caller's own; the same request with the same key is done once in seven days",
            "schema": {"type": "string", "minLength": 1, "maxLength": 200},
        }


def _own() -> Node:
    answer = {"description": "This document", "content": {JSON: {"schema": {"type": "object"}}}}
    return {
        "operationId": "getOpenapi",
        "summary": "This document",
        "responses": {"200": answer, **_errors((*ANYWHERE, *BEHIND_TOKEN))},
    }


def _errors(statuses: Iterable[int]) -> Node:
    return {str(status): _error(status) for status in statuses}


def _error(status: int) -> Node:
    described = _content(_titles(status), MEDIA_TYPE, StaleProblem if status == STALE else Problem)
    if status in LATER:
        described["headers"] = {"Retry-After": {"description": "seconds to wait", "schema": {"type": "integer"}}}
    return described


def _titles(status: int) -> str:
    return " · ".join(kind.title for kind in KINDS.values() if kind.status == status)


def _content(description: str | None, media_type: str, model: type[BaseModel]) -> Node:
    content: Node = {"content": {media_type: {"schema": {"$ref": REFERENCE.format(model=model.__name__)}}}}
    return content if description is None else {"description": description, **content}


def as_file() -> str:
    """Give the description as the text of `api/openapi.json`, which is written by: python -m api.openapi."""
    from api.v1 import OPERATIONS  # noqa: PLC0415 - which knows its handlers, as this module need not

    return json.dumps(document(OPERATIONS), indent=1, sort_keys=True, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    (Path(__file__).parent / "openapi.json").write_text(as_file(), encoding="utf-8")
