"""The operations on cases, and whether the server can serve them."""

from __future__ import annotations

from pydantic import BaseModel

from advisor.contract.body import parse_json
from advisor.contract.case_answer import CaseAdvice, CaseList, CaseOut
from advisor.contract.case_events import CaseIn, EventsIn
from advisor.contract.case_queries import AdviceQuery, CasesQuery, OrdersQuery
from advisor.contract.case_requests import parse
from advisor.contract.frozen import Answered
from advisor.contract.version import ENGINE_VERSION
from api.conditions import changing, etag, opening
from api.kit import Call, Headers, Operation

ID = {"id": "id of a case, as opening it gave"}
READING = (404, 422)
LISTING = (422,)
OPENING = (400, 413, 415, 422, 507)
CHANGING = (400, 404, 409, 412, 413, 415, 422, 428, 507)


class Health(Answered):
    """The process answers."""

    status: str
    engine: str


class Ready(Answered):
    """Cases can be read and written: the revision of the store's tables, and how many circuits there are."""

    status: str
    schema_revision: str
    circuits: int


def _open(call: Call) -> BaseModel:
    return call.cases.open(parse_json(call.body), call.write)


def _append(call: Call) -> BaseModel:
    return call.cases.append(call.path["id"], parse_json(call.body), call.write)


def _read(call: Call) -> BaseModel:
    return call.cases.read(call.caller.shop, call.path["id"])


def _list(call: Call) -> BaseModel:
    return call.cases.list(call.caller.shop, parse(CasesQuery, dict(call.query)))


def _advice(call: Call) -> BaseModel:
    return call.cases.advice(call.caller.shop, call.path["id"], parse(AdviceQuery, dict(call.query)))


def _orders(call: Call) -> str:
    return call.cases.orders(call.caller.shop, parse(OrdersQuery, dict(call.query)))


def _health(_: Call) -> BaseModel:
    return Health(status="ok", engine=ENGINE_VERSION)


def _ready(call: Call) -> BaseModel:
    return Ready(status="ready", schema_revision=call.cases.store.check(), circuits=len(call.engine.circuits()))


def _tag(case: BaseModel) -> Headers:
    assert isinstance(case, CaseOut)
    return {"ETag": etag(case.version)}


def _tag_and_place(case: BaseModel) -> Headers:
    assert isinstance(case, CaseOut)
    return {"ETag": etag(case.version), "Location": f"/v1/cases/{case.id}"}


CASE_OPERATIONS = (
    Operation(
        "POST",
        "/v1/cases",
        "openCase",
        "Open a case",
        _open,
        CaseOut,
        errors=OPENING,
        request=CaseIn,
        write=opening,
        headers=_tag_and_place,
        status=201,
    ),
    Operation(
        "GET",
        "/v1/cases",
        "listCases",
        "Cases, newest first, a page at a time",
        _list,
        CaseList,
        errors=LISTING,
        query=CasesQuery,
    ),
    Operation(
        "GET",
        "/v1/cases/{id}",
        "getCase",
        "One case with its whole journal; its ETag is its version",
        _read,
        CaseOut,
        errors=(404,),
        parameters=ID,
        headers=_tag,
    ),
    Operation(
        "POST",
        "/v1/cases/{id}/events",
        "appendEvents",
        "Add events to a case, all or none; closing it is an event too",
        _append,
        CaseOut,
        errors=CHANGING,
        request=EventsIn,
        parameters=ID,
        write=changing,
        headers=_tag,
    ),
    Operation(
        "GET",
        "/v1/cases/{id}/advice",
        "adviseOnCase",
        "Advice on a case as it stands",
        _advice,
        CaseAdvice,
        errors=READING,
        parameters=ID,
        query=AdviceQuery,
    ),
    Operation(
        "GET",
        "/v1/repair-orders",
        "exportRepairOrders",
        "Closed cases as a table, without the customer's words and the vehicle's identity",
        _orders,
        None,
        errors=LISTING,
        query=OrdersQuery,
        media_type="text/csv",
        role="analyst",
    ),
    Operation("GET", "/v1/health", "getHealth", "Whether the process answers", _health, Health, errors=(), role=None),
    Operation("GET", "/v1/ready", "getReady", "Whether cases can be read and written", _ready, Ready, errors=()),
)
