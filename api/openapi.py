"""The OpenAPI 3.1 document, made from the operations and their own types."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import JsonSchemaMode, models_json_schema

from advisor.contract.problem import KINDS, MEDIA_TYPE, Problem
from advisor.contract.version import ENGINE_VERSION
from api.kit import JSON, Operation

DOCUMENT_PATH = "/v1/openapi.json"
REFERENCE = "#/components/schemas/{model}"
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
        "components": {"schemas": _schemas(listed)},
    }


def _schemas(operations: tuple[Operation, ...]) -> Node:
    wanted: list[tuple[type[BaseModel], JsonSchemaMode]] = [(Problem, "serialization")]
    for operation in operations:
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
        "responses": {"200": _content("The answer", JSON, operation.answer), **_errors(operation.errors)},
    }
    if operation.request:
        described["requestBody"] = {"required": True, **_content(None, JSON, operation.request)}
    if operation.parameters:
        described["parameters"] = [
            {"name": name, "in": "path", "required": True, "description": text, "schema": {"type": "string"}}
            for name, text in operation.parameters.items()
        ]
    return described


def _own() -> Node:
    answer = {"description": "This document", "content": {JSON: {"schema": {"type": "object"}}}}
    return {
        "operationId": "getOpenapi",
        "summary": "This document",
        "responses": {"200": answer, **_errors((421, 500))},
    }


def _errors(statuses: Iterable[int]) -> Node:
    return {str(status): _content(_titles(status), MEDIA_TYPE, Problem) for status in statuses}


def _titles(status: int) -> str:
    return " · ".join(kind.title for kind in KINDS.values() if kind.status == status)


def _content(description: str | None, media_type: str, model: type[BaseModel]) -> Node:
    content: Node = {"content": {media_type: {"schema": {"$ref": REFERENCE.format(model=model.__name__)}}}}
    return content if description is None else {"description": description, **content}
