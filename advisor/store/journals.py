"""Journals inside one transaction: reading them, and adding to them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, Select, and_, delete, insert, select, update

from advisor.contract.event import ERASED, PERSONAL, Event
from advisor.errors import UnknownCaseError
from advisor.store import tables
from advisor.store.records import CaseRow, Kept, Key, Page, Wanted

KEYS_KEPT = timedelta(days=7)
_CASES, _EVENTS, _PERSONAL, _KEYS = (
    tables.CASES.c,
    tables.EVENTS.c,
    tables.PERSONAL.c,
    tables.KEYS.c,
)
_ROW = (
    _CASES.id,
    _CASES.shop,
    _CASES.circuit,
    _CASES.reference,
    _CASES.state,
    _CASES.opened_at,
    _CASES.changed_at,
    _CASES.version,
)


class Journals:
    """The journals of all shops within a transaction; every question is about one shop."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def row(self, shop: str, case: str, *, to_write: bool = False) -> CaseRow:
        """Give a case, held until the transaction ends if it is to be written; raises UnknownCaseError."""
        asked = select(*_ROW).where(_CASES.shop == shop, _CASES.id == case)
        is_id = case.isascii() and case.isprintable()  # a database may refuse to be asked for anything else
        found = is_id and self._connection.execute(asked.with_for_update() if to_write else asked).one_or_none()
        if not found:
            raise UnknownCaseError(f"no case has the id {case[:60]!a}")
        return CaseRow(*found)

    def events(self, cases: Sequence[str]) -> dict[str, tuple[Event, ...]]:
        """Give the whole journals of cases, personal texts in their places, or marked as erased."""
        joined = and_(_PERSONAL.case_id == _EVENTS.case_id, _PERSONAL.seq == _EVENTS.seq)
        asked = (
            select(tables.EVENTS, _PERSONAL.body.label("personal"))
            .outerjoin(tables.PERSONAL, joined)
            .where(_EVENTS.case_id.in_(cases))
            .order_by(_EVENTS.case_id, _EVENTS.seq)
        )
        found: dict[str, list[Event]] = defaultdict(list)
        for row in self._connection.execute(asked):
            found[row.case_id].append(_event(row))
        return {case: tuple(events) for case, events in found.items()}

    def page(self, wanted: Wanted) -> Page:
        """Give a page of a list of cases, newest first."""
        asked = _filtered(select(_CASES.number, *_ROW), wanted).order_by(_CASES.number.desc()).limit(wanted.limit + 1)
        found = self._connection.execute(asked).all()
        rows = tuple(CaseRow(*row[1:]) for row in found[: wanted.limit])
        return Page(rows, found[wanted.limit - 1][0] if len(found) > wanted.limit else None)

    def open(self, row: CaseRow, events: Iterable[Event]) -> None:
        """Add a case with its first events."""
        self._connection.execute(insert(tables.CASES), vars(row))
        self._add(row.id, events)

    def append(self, row: CaseRow, events: Iterable[Event]) -> None:
        """Add events to a case, whose row says what it is afterwards."""
        self._add(row.id, events)
        changed = update(tables.CASES).where(_CASES.id == row.id)
        self._connection.execute(
            changed.values(state=row.state, changed_at=row.changed_at, version=row.version, reference=row.reference)
        )

    def kept(self, key: Key, now: datetime) -> Kept | None:
        """Give what was done under a key within the last seven days."""
        asked = select(_KEYS.case_id, _KEYS.version, _KEYS.fingerprint).where(_is(key), _KEYS.at > now - KEYS_KEPT)
        found = self._connection.execute(asked).one_or_none()
        return None if found is None else Kept(*found)

    def keep(self, key: Key, case: str, version: int, now: datetime) -> None:
        """Keep what was done under a key; older keys go."""
        self._connection.execute(delete(tables.KEYS).where(_KEYS.at <= now - KEYS_KEPT))
        self._connection.execute(insert(tables.KEYS), {**vars(key), "case_id": case, "version": version, "at": now})

    def erase(self, case: str) -> None:
        """Erase what may name a person in a case; the rest of its journal stays."""
        self._connection.execute(delete(tables.PERSONAL).where(_PERSONAL.case_id == case))

    def _add(self, case: str, events: Iterable[Event]) -> None:
        split = [(event, _personal(event)) for event in events]
        rows = [
            {**vars(event), "case_id": case, "body": {**event.body, **dict.fromkeys(apart, ERASED)}}
            for event, apart in split
        ]
        self._connection.execute(insert(tables.EVENTS), rows)
        personal = [{"case_id": case, "seq": event.seq, "body": apart} for event, apart in split if apart]
        if personal:
            self._connection.execute(insert(tables.PERSONAL), personal)


def _personal(event: Event) -> dict[str, object]:
    names = PERSONAL.get(event.kind, ())
    return {name: event.body[name] for name in names if event.body.get(name) is not None}


def _event(row: Row[Any]) -> Event:  # Any: a row has the columns of its query
    return Event(row.v, row.seq, row.at, row.by, row.kind, {**row.body, **(row.personal or {})})


def _filtered(asked: Select[Any], wanted: Wanted) -> Select[Any]:  # Any: the columns of the query stay as they are
    asked = asked.where(_CASES.shop == wanted.shop)
    for column, value in ((_CASES.state, wanted.state), (_CASES.circuit, wanted.circuit)):
        asked = asked if value is None else asked.where(column == value)
    if wanted.reference is not None:
        asked = asked.where(_CASES.reference == wanted.reference)
    if wanted.since is not None:
        asked = asked.where(_CASES.opened_at >= wanted.since)
    return asked if wanted.before is None else asked.where(_CASES.number < wanted.before)


def _is(key: Key) -> Any:  # noqa: ANN401 - a condition of SQLAlchemy
    return and_(_KEYS.shop == key.shop, _KEYS.token == key.token, _KEYS.route == key.route, _KEYS.key == key.key)
