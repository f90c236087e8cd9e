"""What pydantic refuses, reworded for a caller: a pointer, what is wrong, what was expected."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ValidationError

from advisor.contract.body import pointer
from advisor.contract.nearest import shown, unknown
from advisor.contract.request import (
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
_PARTS: Mapping[tuple[str, ...], type[BaseModel]] = {
    (): AdviceRequest,
    ("vehicle",): Vehicle,
    ("costs",): CostsIn,
    ("findings", "symptom"): SymptomIn,
    ("findings", "outcome"): OutcomeIn,
    ("findings", "reading"): FlatReadingIn,
    ("findings", "short-reading"): ReadingIn,
    ("findings", "short-reading", "reading"): Reading,
}
_EXPECTED = {
    "string_type": "expected a text",
    "string_unicode": "expected a text of Unicode characters",
    "float_type": "expected a number",
    "finite_number": "expected a finite number",
    "bool_type": "expected true or false",
    "tuple_type": "expected a list",
    "model_type": "expected an object",
    "model_attributes_type": "expected an object",
    "string_too_short": "expected a text that is not empty",
}


def problems_of(error: ValidationError) -> list[RequestProblem]:
    """Give every refusal as a problem with the pointer into the request as it was sent."""
    return [
        RequestProblem(pointer(*_sent(item["loc"])), _message(item))
        for item in error.errors(include_url=False, include_context=True)
    ]


def broken_findings(error: ValidationError) -> frozenset[int] | None:
    """Give the indices of the findings that were refused; None when the list itself was."""
    places = [item["loc"][1:2] for item in error.errors(include_url=False) if item["loc"][:1] == ("findings",)]
    return None if () in places else frozenset(int(place[0]) for place in places)


def _sent(loc: Sequence[str | int]) -> tuple[str | int, ...]:
    # After the index of a finding pydantic names the form that it took the finding for; the caller never sent that.
    return (*loc[:2], *loc[3:]) if loc[:1] == ("findings",) else tuple(loc)


def _message(item: Mapping[str, Any]) -> str:  # Any: pydantic's own error records
    kind, loc, sent, limits = item["type"], item["loc"], item["input"], item.get("ctx", {})
    if kind == "missing":
        return "this key is missing"
    if kind == "extra_forbidden":
        part = _PARTS.get(tuple(step for step in loc[:-1] if isinstance(step, str)))
        return unknown("key", str(loc[-1]), part.model_fields if part else ())
    if kind.startswith("union_tag"):
        return FINDING_FORMS
    if kind == "value_error":
        return str(limits["error"])
    if kind == "too_long":
        return f"at most {limits['max_length']} entries"
    if kind == "string_too_long":
        return f"at most {limits['max_length']} characters"
    if kind == "string_pattern_mismatch":
        return f"expected three capital letters such as EUR, not {shown(sent)}"
    if kind in ("greater_than_equal", "less_than_equal"):
        bound = f"at least {limits['ge']:g}" if "ge" in limits else f"at most {limits['le']:g}"
        return f"expected {bound}, not {shown(sent)}"
    if kind == "literal_error":
        return f"expected {limits['expected']}, not {shown(sent)}"
    return f"{_EXPECTED.get(kind, 'not understood')}, not {shown(sent)}"
