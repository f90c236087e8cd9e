"""The operations on cases, and whether the server can serve them."""

from __future__ import annotations

from pydantic import BaseModel

from advisor.cases.order_book import OrderBook
from advisor.contract.body import Json, parse_json
from advisor.contract.case_answer import CaseAdvice, CaseList, CaseOut
from advisor.contract.case_events import CaseIn, EventsIn
from advisor.contract.case_plan import CasePlan
from advisor.contract.case_queries import AdviceQuery, CasesQuery, OrdersQuery
from advisor.contract.case_requests import parse
from advisor.contract.frozen import Answered
from advisor.contract.order_rows import MAX_BYTES, ImportOut
from advisor.contract.version import ENGINE_VERSION
from api.conditions import changing, etag, opening
from api.kit import Call, Headers, Operation, Sent

CSV, PARQUET = "text/csv", "application/vnd.apache.parquet"
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


def _plan(call: Call) -> BaseModel:
    return call.planner.plan(call.cases, call.caller.shop, call.path["id"])


def _erase(call: Call) -> BaseModel:
    return call.cases.erase(call.caller.shop, call.path["id"])


def _orders(call: Call) -> Sent:
    """The form that the address names, or else the one that the caller prefers."""
    usual: dict[str, Json] = {"format": "parquet" if call.prefers == PARQUET else "csv"}
    query = parse(OrdersQuery, {**usual, **call.query})
    return Sent(_order_book(call).export(call.caller.shop, query), PARQUET if query.format == "parquet" else CSV)


def _import(call: Call) -> BaseModel:
    return _order_book(call).take_in(call.body, call.write)


def _order_book(call: Call) -> OrderBook:
    return OrderBook(call.cases.store, call.engine, call.cases.now)


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
        "/v1/cases/{id}/plan",
        "planForCase",
        "The whole plan for a case's complaint",
        _plan,
        CasePlan,
        errors=(404, 409, 422),
        parameters=ID,
        more="The plan is for the complaint that the case was opened with, as decided beforehand: what has been found "
        "since is not in it, ask for advice with that. It takes some seconds; one is made at a time.",
    ),
    Operation(
        "DELETE",
        "/v1/cases/{id}/personal",
        "erasePersonal",
        "Erase the customer's words, names and the vehicle's identity from a case; its findings stay",
        _erase,
        CaseOut,
        errors=(404,),
        parameters=ID,
        headers=_tag,
        role="manager",
    ),
    Operation(
        "GET",
        "/v1/repair-orders",
        "exportRepairOrders",
        "Closed cases as a table, without the customer's words and the vehicle's identity",
        _orders,
        None,
        errors=(422, 501),
        query=OrdersQuery,
        gives=(CSV, PARQUET),
        role="analyst",
    ),
    Operation(
        "POST",
        "/v1/repair-orders",
        "importRepairOrders",
        "Take in a table of the shop's own repair orders: good rows are kept, every bad one is told",
        _import,
        ImportOut,
        errors=(400, 413, 415, 422, 507),
        takes=CSV,
        largest=MAX_BYTES,
        write=opening,
        role="analyst",
    ),
    Operation("GET", "/v1/health", "getHealth", "Whether the process answers", _health, Health, errors=(), role=None),
    Operation("GET", "/v1/ready", "getReady", "Whether cases can be read and written", _ready, Ready, errors=()),
)
