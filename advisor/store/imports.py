"""Orders of the shops' own records, as they were imported, inside one transaction."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, insert, select, update

from advisor.store import tables
from advisor.store.journals import KEYS_KEPT
from advisor.store.records import ImportedOrder, ImportRecord, Key, Wanted

_IMPORTS, _ORDERS, _CASES = tables.IMPORTS.c, tables.ORDERS.c, tables.CASES.c
AT_ONCE = 500


class Imports:
    """Imported orders of all shops within a transaction; every question is about one shop."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def kept(self, key: Key, now: datetime) -> ImportRecord | None:
        """Give the import that came with a key within the last seven days; an older one lets go of it."""
        same = (_IMPORTS.shop == key.shop, _IMPORTS.token == key.token, _IMPORTS.key == key.key)
        old = update(tables.IMPORTS).where(*same, _IMPORTS.at <= now - KEYS_KEPT)
        self._connection.execute(old.values(key=None))
        found = self._connection.execute(select(_IMPORTS.fingerprint, _IMPORTS.answer).where(*same)).one_or_none()
        return None if found is None else ImportRecord(*found)

    def known(self, shop: str, digests: Sequence[str]) -> set[str]:
        """Give which of these rows are there already, by their hashes."""
        return self._among(_ORDERS.digest, _ORDERS.shop == shop, digests)

    def cases(self, shop: str, ids: Sequence[str]) -> set[str]:
        """Give which of these are ids of the shop's own cases."""
        return self._among(_CASES.id, _CASES.shop == shop, ids)

    def add(
        self, shop: str, key: Key | None, record: ImportRecord, orders: Iterable[ImportedOrder], at: datetime
    ) -> None:
        """Add an import with its orders and what was said about it."""
        row = {"shop": shop, "token": key.token if key else "", "key": key.key if key else None, "at": at}
        done = self._connection.execute(insert(tables.IMPORTS), {**row, **vars(record)})
        assert done.inserted_primary_key is not None  # of a single row it is always told
        number = done.inserted_primary_key[0]
        rows = [{**vars(order), "shop": shop, "import_number": number} for order in orders]
        if rows:
            self._connection.execute(insert(tables.ORDERS), rows)

    def orders(self, wanted: Wanted) -> tuple[dict[str, Any], ...]:  # Any: cells as they were read
        """Give the imported orders of a shop as they were read, the newest first."""
        asked = select(_ORDERS.cells).where(_ORDERS.shop == wanted.shop).order_by(_ORDERS.number.desc())
        if wanted.circuit is not None:
            asked = asked.where(_ORDERS.circuit == wanted.circuit)
        if wanted.since is not None:
            asked = asked.where(_ORDERS.at >= wanted.since)
        return tuple(row.cells for row in self._connection.execute(asked))

    def _among(self, column: ColumnElement[str], own: ColumnElement[bool], values: Sequence[str]) -> set[str]:
        found: set[str] = set()
        for start in range(0, len(values), AT_ONCE):
            some: Collection[str] = values[start : start + AT_ONCE]
            found |= set(self._connection.execute(select(column).where(own, column.in_(some))).scalars())
        return found
