"""Closed cases as repair orders: a table for analysts, without the customer's words and the vehicle's identity."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta

from advisor.cases.replay import replay
from advisor.cases.state import CaseState
from advisor.contract.case_bodies import PartUsed
from advisor.contract.event import Event
from advisor.contract.order_cells import Cell, inert
from advisor.contract.order_rows import COLUMNS as ROW_COLUMNS
from advisor.contract.request import AnyFindingIn, RepairIn
from advisor.store.records import CaseRow

COLUMNS = tuple(ROW_COLUMNS)


def orders_of(rows: Iterable[CaseRow], journals: Mapping[str, Sequence[Event]]) -> list[dict[str, Cell]]:
    """Give closed cases as rows of a table."""
    return [_order(row, replay(journals[row.id])) for row in rows]


def with_comebacks(orders: Sequence[dict[str, Cell]]) -> list[dict[str, Cell]]:
    """Give orders that say of those which others of them come back from that they did, and after how many days."""
    back = {order["comeback_of"]: order["opened_at"] for order in orders if order.get("comeback_of")}
    return [_come_back(order, str(back[order["case"]])) if order.get("case") in back else order for order in orders]


def _come_back(order: dict[str, Cell], opened_at: str) -> dict[str, Cell]:
    waited = datetime.fromisoformat(opened_at) - datetime.fromisoformat(str(order["closed_at"]))
    return {**order, "came_back": "true", "followed_days": max(waited / timedelta(days=1), 0.0)}


def orders_csv(orders: Iterable[Mapping[str, Cell]]) -> str:
    """Give orders as CSV with a header; a cell that would start a formula gets an apostrophe before it."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\r\n")  # RFC 4180
    writer.writeheader()
    for order in orders:
        writer.writerow({name: inert(cell) for name, cell in order.items()})
    return text.getvalue()


def _order(row: CaseRow, state: CaseState) -> dict[str, Cell]:
    opened, closing = state.opened, state.closing
    assert closing is not None  # only closed cases are asked for
    how = closing.body
    return {
        "case": row.id,
        "reference": opened.reference,
        "circuit": opened.circuit,
        "opened_at": state.opened_at.isoformat(),
        "closed_at": closing.at.isoformat(),
        **opened.vehicle.model_dump(),
        "symptom": opened.symptom,
        "findings": json.dumps([finding.model_dump(exclude_none=True) for finding in _told(state)]),
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
        "shop": row.shop,
        "cost": _total(spent.money for spent in state.spent),
        "source": "case",
    }


def _told(state: CaseState) -> list[AnyFindingIn]:
    """Findings of all stretches in order; a repair stands among them where something was found after it."""
    told: list[AnyFindingIn] = []
    waiting: list[AnyFindingIn] = []
    for stretch in state.stretches:
        if stretch.findings:
            told += [*waiting, *(found.finding for found in stretch.findings)]
            waiting = []
        if stretch.repair_after is not None:
            repair = stretch.repair_after.repair
            waiting.append(RepairIn(repair=repair.repair, result=repair.result))
    return told


def _joined(items: Iterable[str]) -> str:
    return "; ".join(items)


def _price(parts: Sequence[PartUsed]) -> float | None:
    """Add up what the parts cost [money]; None where a price is not known."""
    prices = [part.price * part.count for part in parts if part.price is not None]
    return sum(prices) if parts and len(prices) == len(parts) else None


def _total(amounts: Iterable[float | None]) -> float | None:
    """Add up what is known; None where nothing is."""
    known = [amount for amount in amounts if amount is not None]
    return sum(known) if known else None
