"""The OpenAPI document agrees with the routes and the types."""

import json
import re
from pathlib import Path

import pytest

from advisor.contract.answer import AdviceAnswer
from advisor.contract.case_answer import CaseAdvice, CaseOut, EventOut
from advisor.contract.case_events import EVENTS, CaseIn
from advisor.contract.request import AdviceRequest
from api import openapi
from api.conditions import changing, opening
from api.v1 import OPERATIONS


@pytest.fixture
def document(client):
    """Give the document as a caller gets it."""
    return client.get("/v1/openapi.json").get_json()


def references(node: object) -> set[str]:
    """Give every reference inside a document."""
    if isinstance(node, list):
        return set().union(*map(references, node)) if node else set()
    if isinstance(node, dict):
        own = {node["$ref"]} if isinstance(node.get("$ref"), str) else set()
        return own.union(*map(references, node.values()))
    return set()


def test_paths_are_the_routes(client, document):
    """Every JSON route is described with its method, and nothing else is."""
    routes = {
        (rule.rule.replace("<", "{").replace(">", "}"), method.lower())
        for rule in client.application.url_map.iter_rules()
        if rule.rule.startswith("/v1")
        for method in rule.methods - {"HEAD", "OPTIONS"}
    }
    assert {(path, method) for path, item in document["paths"].items() for method in item} == routes


def test_references_resolve(document):
    """Every reference names a schema of the document."""
    for reference in references(document):
        assert reference.removeprefix("#/components/schemas/") in document["components"]["schemas"]


def test_request_and_answer_are_the_types(document):
    """The schemas have the keys of the types, closed against others."""
    schemas = document["components"]["schemas"]
    for model in (AdviceRequest, AdviceAnswer):
        assert set(schemas[model.__name__]["properties"]) == set(model.model_fields)
        assert schemas[model.__name__]["additionalProperties"] is False
    assert schemas["AdviceRequest"]["required"] == ["circuit"]


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.id)
def test_every_error_is_a_described_problem(document, operation):
    """Every status that an operation can answer is described, errors as problem documents."""
    described = document["paths"][operation.path][operation.method.lower()]["responses"]
    assert set(described) == {str(operation.status), *map(str, operation.statuses)}
    for status in operation.statuses:
        said = described[str(status)]["content"]["application/problem+json"]["schema"]["$ref"]
        assert said.endswith("/StaleProblem" if status == 412 else "/Problem")
        assert described[str(status)]["description"]


@pytest.mark.parametrize("operation", OPERATIONS, ids=lambda operation: operation.id)
def test_parameters_are_those_of_the_code(document, operation):
    """Path, query and headers are described as the code reads them; only the query may be left out, and the key."""
    described = document["paths"][operation.path][operation.method.lower()].get("parameters", [])
    named = {where: {row["name"] for row in described if row["in"] == where} for where in ("path", "query", "header")}
    assert named["path"] == set(re.findall(r"\{(\w+)\}", operation.path))
    assert named["query"] == set(operation.query.model_fields if operation.query else ())
    headers = {None: set(), opening: {"Idempotency-Key"}, changing: {"If-Match", "Idempotency-Key"}}
    assert named["header"] == headers[operation.write]
    assert {row["name"] for row in described if row.get("required")} == named["path"] | (named["header"] & {"If-Match"})
    assert all(row["description"] for row in described)


def test_events_are_closed_types(document):
    """Each kind of event is described with its body, closed against other keys."""
    schemas = document["components"]["schemas"]
    events = schemas["EventsIn"]["properties"]["events"]["items"]["discriminator"]["mapping"]
    assert set(events) == set(EVENTS)
    for kind, reference in events.items():
        schema = schemas[reference.removeprefix("#/components/schemas/")]
        assert (schema["properties"]["kind"]["const"], schema["additionalProperties"]) == (kind, False)
        assert set(schema["required"]) == {"kind", "body"}
    for model in (CaseIn, CaseOut, CaseAdvice, EventOut):
        assert set(schemas[model.__name__]["properties"]) == set(model.model_fields)
        assert schemas[model.__name__]["additionalProperties"] is False


def test_every_type_has_a_name_of_its_own(document):
    """No schema is named by where its type stands, or split into what is taken and what is given."""
    assert [name for name in document["components"]["schemas"] if not name.isalnum()] == []


def test_the_document_is_plain(document):
    """The document states its version and holds no number that JSON lacks."""
    assert document["openapi"].startswith("3.1.")
    json.dumps(document, allow_nan=False)


def test_the_committed_document_is_the_one_of_the_code(document):
    """The file in the repository is what the server gives; python -m api.openapi writes it anew."""
    text = (Path(openapi.__file__).parent / "openapi.json").read_text(encoding="utf-8")
    assert text == openapi.as_file()
    assert json.loads(text) == document


def test_every_operation_asks_for_a_token_but_health(document):
    """The scheme is described, holds for all, and is lifted where the code lifts it."""
    assert document["components"]["securitySchemes"]["token"]["scheme"] == "bearer"
    assert document["security"] == [{"token": []}]
    free = [o["operationId"] for path in document["paths"].values() for o in path.values() if o.get("security") == []]
    assert free == ["getHealth"]


def test_who_is_told_to_come_later_is_told_when(document):
    """Every answer of too many requests, or of a store that is away, has its header."""
    for path in document["paths"].values():
        for operation in path.values():
            for status, answer in operation["responses"].items():
                assert ("Retry-After" in answer.get("headers", {})) == (status in {"429", "503"})
