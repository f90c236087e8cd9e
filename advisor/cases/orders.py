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
from advisor.contract.order_rows import COLUMNS as ROW_COLUMNS
from advisor.store.records import CaseRow

COLUMNS = tuple(ROW_COLUMNS)
# What a spreadsheet takes for a formula: https://owasp.org/www-community/attacks/CSV_Injection
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
Cell = str | float | None


def orders_of(rows: Iterable[CaseRow], journals: Mapping[str, Sequence[Event]]) -> list[dict[str, Cell]]:
    """Give closed cases as rows of a table."""
    return [_order(row.id, replay(journals[row.id])) for row in rows]


def orders_csv(orders: Iterable[Mapping[str, Cell]]) -> str:
    """Give orders as CSV with a header; a cell that would start a formula gets an apostrophe before it."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\r\n")  # RFC 4180
    writer.writeheader()
    for order in orders:
        writer.writerow({name: inert(cell) for name, cell in order.items()})
    return text.getvalue()


def inert(cell: Cell) -> str:
    """Give a cell as text that no spreadsheet takes for a formula; `active` undoes it."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return f"'{cell}" if cell.lstrip("'").startswith(_FORMULA) else cell
    return f"{cell:.12g}"


def active(text: str) -> str:
    """Give a text as it was before `inert`.

    >>> inert("=1+1"), active("'=1+1"), active("'tis"), active(inert("'=1"))
    ("'=1+1", '=1+1', "'tis", "'=1")
    """
    return text[1:] if text.startswith("'") and text.lstrip("'").startswith(_FORMULA) else text


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
        "source": "case",
    }


def _joined(items: Iterable[str]) -> str:
    return "; ".join(items)


def _price(parts: Sequence[PartUsed]) -> float | None:
    """Add up what the parts cost [money]; None where a price is not known."""
    prices = [part.price * part.count for part in parts if part.price is not None]
    return sum(prices) if parts and len(prices) == len(parts) else None
