"""The operations of the JSON API, version 1."""

from __future__ import annotations

from pydantic import BaseModel

from advisor.contract import service
from advisor.contract.answer import AdviceAnswer
from advisor.contract.listing import CircuitDetail, CircuitList, circuit_detail
from advisor.contract.request import AdviceRequest
from api.cases import CASE_OPERATIONS
from api.kit import Call, Operation
from api.releases import RELEASE_OPERATIONS


def advice(call: Call) -> BaseModel:
    """Answer one request."""
    return service.answer(call.body, call.engine)


def circuits(call: Call) -> BaseModel:
    """List the circuits."""
    return service.listed(call.engine)


def circuit(call: Call) -> BaseModel:
    """Tell what one circuit holds."""
    return circuit_detail(service.known_model(call.path["id"], call.engine))


OPERATIONS = (
    Operation(
        "POST",
        "/v1/advice",
        "advise",
        "Ranked causes, tests by falling worth, repairs and the next step for one set of findings",
        advice,
        AdviceAnswer,
        errors=(400, 413, 415, 422),
        request=AdviceRequest,
        rates=True,
    ),
    Operation(
        "GET",
        "/v1/circuits",
        "listCircuits",
        "Every circuit with the symptoms that it knows",
        circuits,
        CircuitList,
        errors=(),
    ),
    Operation(
        "GET",
        "/v1/circuits/{id}",
        "getCircuit",
        "Symptoms, tests, parts and connectors of one circuit",
        circuit,
        CircuitDetail,
        errors=(404,),
        parameters={"id": "id of a circuit, as the list gives it"},
    ),
    *CASE_OPERATIONS,
    *RELEASE_OPERATIONS,
)
