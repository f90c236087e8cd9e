"""One cell of an order by itself: what its text means, or what is wrong with its form."""

from __future__ import annotations

from pydantic import ValidationError

from advisor.contract.order_names import Stranger
from advisor.contract.order_rows import OrderRow
from advisor.contract.refusals import problems_of

_FITTING = {"reference": "x", "circuit": "x", "closed_at": "2000-01-01"}
# The short name of a reason, by pydantic's type of error.
_REASONS = {
    "float_parsing": "not-a-number",
    "finite_number": "not-a-number",
    "greater_than_equal": "negative",
    "less_than_equal": "out-of-range",
    "literal_error": "unknown-value",
    "string_too_long": "too-long",
    "string_unicode": "wrong-encoding",
}


def read_cell(column: str, text: str) -> object | Stranger:
    """Give what a cell's text means in its column, or what is wrong with it.

    >>> read_cell("years", "4.5"), read_cell("years", "-1").reason
    (4.5, 'negative')
    """
    try:
        value: object = getattr(OrderRow.model_validate({**_FITTING, column: text}), column)
    except ValidationError as error:
        kind = error.errors()[0]["type"]
        usual = "not-a-date" if kind.startswith(("datetime", "date", "timezone")) else "wrong-form"
        return Stranger(_REASONS.get(kind, usual), problems_of(error)[0].message)
    return value
