"""The addresses of releases of priors: for the shop of whoever calls, analysts and up."""

from __future__ import annotations

from pydantic import BaseModel

from advisor.cases.release_words import in_force, listed, rates_of, side_by_side, whole
from advisor.contract.body import parse_json
from advisor.contract.case_requests import parse
from advisor.contract.priors import PriorsFile, read_priors
from advisor.contract.release_answer import (
    ActivateIn,
    ComparedOut,
    InForceOut,
    ReleaseList,
    ReleaseOut,
    RollBackIn,
)
from api.kit import Call, Operation

LARGEST = 4_000_000
RELEASE = {"id": "id of a release, or NAME@DIGITS as answers have it"}
LOCALLY = "this machine"
"""Who is written down where nobody has to say so."""
WRITING = (400, 413, 415, 422, 507)


def _list(call: Call) -> BaseModel:
    return listed(call.cases.releases, call.caller.shop)


def _add(call: Call) -> BaseModel:
    asks = call.caller
    return whole(call.cases.releases.add(read_priors(call.body), call.engine, asks.shop, asks.name or LOCALLY))


def _show(call: Call) -> BaseModel:
    return whole(call.cases.releases.find(call.path["id"], call.caller.shop))


def _changes(call: Call) -> BaseModel:
    book, shop = call.cases.releases, call.caller.shop
    return side_by_side(book.rates(shop), rates_of(book, call.path["id"], shop))


def _activate(call: Call) -> BaseModel:
    asks, sent = call.caller, parse(ActivateIn, parse_json(call.body))
    call.cases.releases.activate(sent.release, asks.shop, asks.name or LOCALLY)
    return in_force(call.cases.releases, asks.shop)


def _roll_back(call: Call) -> BaseModel:
    asks, sent = call.caller, parse(RollBackIn, parse_json(call.body))
    call.cases.releases.roll_back(asks.shop, asks.name or LOCALLY, leaving=sent.leaving)
    return in_force(call.cases.releases, asks.shop)


RELEASE_OPERATIONS = (
    Operation(
        "GET",
        "/v1/releases",
        "listReleases",
        "Releases of priors that the shop may use, and what is in force",
        _list,
        ReleaseList,
        errors=(),
        role="analyst",
    ),
    Operation(
        "POST",
        "/v1/releases",
        "addRelease",
        "Add a release of priors, the file that a refit has written; adding it again changes nothing",
        _add,
        ReleaseOut,
        errors=WRITING,
        request=PriorsFile,
        largest=LARGEST,
        status=201,
        role="analyst",
    ),
    Operation(
        "GET",
        "/v1/releases/{id}",
        "getRelease",
        "A release of priors with all that its file holds",
        _show,
        ReleaseOut,
        errors=(404,),
        parameters=RELEASE,
        role="analyst",
    ),
    Operation(
        "GET",
        "/v1/releases/{id}/changes",
        "compareRelease",
        "What a release would change of the rates in force",
        _changes,
        ComparedOut,
        errors=(404,),
        parameters=RELEASE,
        role="analyst",
    ),
    Operation(
        "POST",
        "/v1/releases/activate",
        "activateRelease",
        "Put a release in force for the shop, at once; open cases keep to theirs",
        _activate,
        InForceOut,
        errors=(*WRITING, 404),
        request=ActivateIn,
        role="analyst",
    ),
    Operation(
        "POST",
        "/v1/releases/rollback",
        "rollBackRelease",
        "Put in force again what was so before",
        _roll_back,
        InForceOut,
        errors=(*WRITING, 404, 409),
        request=RollBackIn,
        role="analyst",
    ),
)
