"""Opening a case by a form: from its fields to what opening takes."""

from __future__ import annotations

from advisor.contract.body import Json
from api.case_actions import numbers, vehicle
from api.forms import Sent


def opening(form: Sent) -> dict[str, Json]:
    """Give the case that a form opens; raises RequestError for numbers that are none."""
    prices = numbers(form, "labour", "hand-over")
    costs = {"labour_per_hour": prices["labour"], "hand_over": prices["hand-over"]}
    told: dict[str, Json] = {
        "circuit": form.get("circuit"),
        "vehicle": vehicle(form),
        "costs": {name: price for name, price in costs.items() if price is not None} or None,
        **{name: form.get(name) for name in ("symptom", "words", "identity", "reference")},
        "comeback_of": form.get("comeback"),
    }
    return {name: value for name, value in told.items() if value not in (None, "")}
