"""Closed cases as repair orders: a table for analysts, without the customer's words and the vehicle's identity."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence

from advisor.cases.replay import replay
from advisor.cases.state import CaseState
from advisor.contract.case_bodies import PartUsed
from advisor.contract.event import Event
from advisor.store.records import CaseRow

COLUMNS = (
    *("case", "reference", "circuit", "opened_at", "closed_at", "years", "hours", "odometer_km", "symptom"),
    *("findings", "repairs", "causes", "cause_status", "cause", "cause_of_cause", "correction"),
    *(
        "parts",
        "parts_price",
        "minutes",
        "proved_good",
        "comeback_of",
        "not_fit_until",
        "knowledge",
        "priors",
        "engine",
    ),
)
# What a spreadsheet takes for a formula: https://owasp.org/www-community/attacks/CSV_Injection
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
Cell = str | float | None


def orders_csv(rows: Iterable[CaseRow], journals: Mapping[str, Sequence[Event]]) -> str:
    """Give closed cases as CSV with a header; a cell that would start a formula gets an apostrophe before it."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\r\n")  # RFC 4180
    writer.writeheader()
    for row in rows:
        order = _order(row.id, replay(journals[row.id]))
        writer.writerow({name: _inert(cell) for name, cell in order.items()})
    return text.getvalue()


def _inert(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        return f"'{cell}" if cell.startswith(_FORMULA) else cell
    return f"{cell:.12g}"


def _order(case: str, state: CaseState) -> dict[str, Cell]:
    opened, closing = state.opened, state.closing
    assert closing is not None  # only closed cases are asked for
    how = closing.body
    return {
        "case": case,
        "reference": opened.reference,
        "circuit": opened.circuit,
        "opened_at": state.opened_at.isoformat(),
        "closed_at": closing.at.isoformat(),
        **opened.vehicle.model_dump(),
        "symptom": opened.symptom,
        "findings": json.dumps([found.finding.model_dump(exclude_none=True) for found in state.findings]),
        "repairs": _joined(f"{mended.repair.repair} {mended.repair.result}" for mended in state.repairs),
        "causes": _joined(how.causes),
        "cause_status": how.cause_status,
        "cause": how.cause,
        "cause_of_cause": how.cause_of_cause,
        "correction": how.correction,
        "parts": _joined(f"{part.count} x {part.part}" for part in how.parts),
        "parts_price": _price(how.parts),
        "minutes": sum(step.minutes for step in how.minutes) if how.minutes else None,
        "proved_good": _joined(how.proved_good),
        "comeback_of": state.comeback_of,
        "not_fit_until": state.not_fit_until,
        **opened.release.model_dump(),
    }


def _joined(items: Iterable[str]) -> str:
    return "; ".join(items)


def _price(parts: Sequence[PartUsed]) -> float | None:
    """Add up what the parts cost [money]; None where a price is not known."""
    prices = [part.price * part.count for part in parts if part.price is not None]
    return sum(prices) if parts and len(prices) == len(parts) else None
