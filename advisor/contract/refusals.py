"""What pydantic refuses, reworded for a caller: a pointer, what is wrong, what was expected."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ValidationError

from advisor.contract.body import pointer
from advisor.contract.case_bodies import CaseVehicle, PartUsed, StepTime
from advisor.contract.case_events import EVENTS, KINDS, CaseIn, EventsIn
from advisor.contract.case_queries import AdviceQuery, CasesQuery, OrdersQuery
from advisor.contract.nearest import shown, unknown
from advisor.contract.order_rows import OrderRow
from advisor.contract.request import (
    FINDING_TAGS,
    AdviceRequest,
    CostsIn,
    FlatReadingIn,
    OutcomeIn,
    Reading,
    ReadingIn,
    SymptomIn,
    Vehicle,
)
from advisor.errors import RequestProblem

FINDING_FORMS = (
    'a finding is {"symptom": S}, {"test": T, "outcome": O} or {"test": T, "reading": {"value": 11.8, "unit": "V"}}'
)
EVENT_FORM = 'an event is {"kind": "note", "body": {"text": ...}}, or another kind with its body'
_Record = Mapping[str, Any]  # pydantic's own error records
_Parts = Mapping[tuple[str, ...], type[BaseModel]]
_PARTS: _Parts = {
    (): AdviceRequest,
    ("vehicle",): Vehicle,
    ("costs",): CostsIn,
    ("findings", "symptom"): SymptomIn,
    ("findings", "outcome"): OutcomeIn,
    ("findings", "reading"): FlatReadingIn,
    ("findings", "short-reading"): ReadingIn,
    ("findings", "short-reading", "reading"): Reading,
}
_CASE_PARTS: _Parts = {**_PARTS, (): CaseIn, ("vehicle",): CaseVehicle}
_EVENT_PARTS: _Parts = {
    (): EventsIn,
    **{("events", kind): event for kind, event in EVENTS.items()},
    **{("events", kind, "body"): body for body, kind in KINDS.items()},
    **{("events", "finding", "body", *part[1:]): known for part, known in _PARTS.items() if part[:1] == ("findings",)},
    ("events", "closed", "body", "parts"): PartUsed,
    ("events", "closed", "body", "minutes"): StepTime,
}
_PARTS_OF: Mapping[str, _Parts] = {
    AdviceRequest.__name__: _PARTS,
    CaseIn.__name__: _CASE_PARTS,
    EventsIn.__name__: _EVENT_PARTS,
    **{query.__name__: {(): query} for query in (AdviceQuery, CasesQuery, OrderRow, OrdersQuery)},
}
# What was expected, by pydantic's type of error; braces name its limits.
_EXPECTED = {
    "string_type": "expected a text",
    "string_unicode": "expected a text of Unicode characters",
    "string_too_short": "expected a text that is not empty",
    "string_too_long": "expected at most {max_length} characters",
    "string_pattern_mismatch": "expected three capital letters such as EUR",
    "float_type": "expected a number",
    "float_parsing": "expected a number",
    "int_type": "expected a whole number",
    "int_parsing": "expected a whole number",
    "int_parsing_size": "expected a smaller number",
    "less_than": "expected less than {lt:g}",
    "date_from_datetime_parsing": "expected a day such as 2026-01-31",
    "date_from_datetime_inexact": "expected a day such as 2026-01-31",
    "finite_number": "expected a finite number",
    "greater_than_equal": "expected at least {ge:g}",
    "less_than_equal": "expected at most {le:g}",
    "bool_type": "expected true or false",
    "tuple_type": "expected a list",
    "too_long": "expected at most {max_length} entries",
    "model_type": "expected an object",
    "model_attributes_type": "expected an object",
    "literal_error": "expected {expected}",
}


def problems_of(error: ValidationError) -> list[RequestProblem]:
    """Give every refusal as a problem with the pointer into the request as it was sent."""
    parts = _PARTS_OF.get(error.title, {})
    return [
        RequestProblem(pointer(*_sent(item["loc"])), _message(item, parts))
        for item in error.errors(include_url=False, include_context=True)
    ]


def broken_findings(error: ValidationError) -> frozenset[int] | None:
    """Give the indices of the findings that were refused; None when the list itself was."""
    places = [item["loc"][1:2] for item in error.errors(include_url=False) if item["loc"][:1] == ("findings",)]
    return None if () in places else frozenset(int(place[0]) for place in places)


def _sent(loc: Sequence[str | int]) -> tuple[str | int, ...]:
    # After the index of a finding pydantic names the form that it took the finding for; the caller never sent that.
    if loc[:1] == ("findings",):
        return (*loc[:2], *loc[3:])
    if loc[:1] == ("events",):  # and after the index of an event its kind
        inside = loc[4:] if loc[2:3] == ("finding",) and loc[4:5] and loc[4] in FINDING_TAGS else ("", *loc[4:])
        return (*loc[:2], *loc[3:4], *inside[1:])
    return tuple(loc)


def _message(item: _Record, parts: _Parts) -> str:
    kind, loc, limits = item["type"], item["loc"], item.get("ctx", {})
    if kind == "missing":
        return "this key is missing"
    if kind == "extra_forbidden":
        part = parts.get(tuple(step for step in loc[:-1] if isinstance(step, str)))
        return unknown("key", str(loc[-1]), part.model_fields if part else ())
    if kind.startswith("union_tag"):
        return FINDING_FORMS if "'kind'" not in limits["discriminator"] else _event_kind(limits)
    if kind == "value_error":
        return str(limits["error"])
    return f"{_EXPECTED.get(kind, 'not understood').format(**limits)}, not {shown(item['input'])}"


def _event_kind(limits: _Record) -> str:
    return unknown("kind of event", str(limits["tag"]), EVENTS) if "tag" in limits else EVENT_FORM
