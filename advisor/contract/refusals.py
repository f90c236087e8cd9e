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
# What was expected, by pydantic's type of error; braces name its limits.
_EXPECTED = {
    "string_type": "expected a text",
    "string_unicode": "expected a text of Unicode characters",
    "string_too_short": "expected a text that is not empty",
    "string_too_long": "expected at most {max_length} characters",
    "string_pattern_mismatch": "expected three capital letters such as EUR",
    "float_type": "expected a number",
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
    kind, loc, limits = item["type"], item["loc"], item.get("ctx", {})
    if kind == "missing":
        return "this key is missing"
    if kind == "extra_forbidden":
        part = _PARTS.get(tuple(step for step in loc[:-1] if isinstance(step, str)))
        return unknown("key", str(loc[-1]), part.model_fields if part else ())
    if kind.startswith("union_tag"):
        return FINDING_FORMS
    if kind == "value_error":
        return str(limits["error"])
    return f"{_EXPECTED.get(kind, 'not understood').format(**limits)}, not {shown(item['input'])}"
