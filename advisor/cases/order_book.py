"""The repair orders of a shop: its closed cases and what it has imported, out as a table and in from one."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from advisor.cases.book import REUSED, Write, start_of
from advisor.cases.importing import GoodRow, Table, read_table
from advisor.cases.orders import orders_csv, orders_of, with_comebacks
from advisor.cases.parquet import orders_parquet
from advisor.contract.case_queries import OrdersQuery
from advisor.contract.engine import Engine
from advisor.contract.order_cells import Cell
from advisor.contract.order_rows import BadCell, ImportOut
from advisor.errors import KeyReusedError
from advisor.store.imports import Imports
from advisor.store.journals import Journals
from advisor.store.records import ImportedOrder, ImportRecord, Page, Wanted
from advisor.store.store import Store

ORDERS_AT_ONCE = 200


@dataclass(frozen=True)
class OrderBook:
    """Repair orders in a store, held against the circuits of an engine; `now` is the clock [UTC]."""

    store: Store
    engine: Engine
    now: Callable[[], datetime]

    def export(self, shop: str, query: OrdersQuery) -> str | bytes:
        """Give the shop's closed cases and imported orders as CSV or Parquet; raises StoreError, MissingExtraError."""
        wanted = Wanted(shop, "closed", query.circuit, since=start_of(query.since), limit=ORDERS_AT_ONCE)
        found = self.store.reading(lambda connection: _orders(Journals(connection), Imports(connection), wanted))
        return orders_parquet(found) if query.format == "parquet" else orders_csv(found)

    def take_in(self, raw: bytes, write: Write) -> ImportOut:
        """Import a table of repair orders: good rows are kept, bad ones told.

        Raises:
            NotCsvError, ImportLimitError: nothing was taken.
            KeyReusedError, StoreError.
        """
        at, sent = self.now(), hashlib.sha256(raw).hexdigest()
        table = read_table(raw, self.engine)
        return self.store.writing(lambda connection: _taken_in(Imports(connection), table, sent, write, at))


def _orders(journals: Journals, imports: Imports, wanted: Wanted) -> list[dict[str, Cell]]:
    """Read closed cases page after page, then what was imported."""
    page: Page | None = None
    found: list[dict[str, Cell]] = []
    while page is None or page.before is not None:
        page = journals.page(replace(wanted, before=page.before if page else None))
        found += orders_of(page.rows, journals.events([row.id for row in page.rows]))
    return with_comebacks(found) + [{**cells, "source": "import"} for cells in imports.orders(wanted)]


def _taken_in(imports: Imports, table: Table, sent: str, write: Write, at: datetime) -> ImportOut:
    """Keep the good rows of a table that are new, unless its key has come before; raises KeyReusedError."""
    kept = imports.kept(write.key, at) if write.key else None
    if kept is not None:
        if kept.fingerprint != sent:
            raise KeyReusedError(REUSED)
        return ImportOut.model_validate(kept.answer, strict=False)
    new, old = _new(imports, table, write.shop)
    answer = ImportOut(
        rows=table.rows,
        accepted=len(new),
        rejected=table.rows - len(new),
        errors=tuple(sorted((*table.bad, *old), key=lambda bad: (bad.line, bad.cell))),
    )
    orders = [
        ImportedOrder(row.digest, row.order.circuit, row.order.opened_at or row.order.closed_at, row.cells)
        for row in new
    ]
    imports.add(write.shop, write.key, ImportRecord(sent, answer.model_dump(mode="json")), orders, at)
    return answer


def _new(imports: Imports, table: Table, shop: str) -> tuple[list[GoodRow], list[BadCell]]:
    """Part good rows into those to keep and those that are there already, as a row or as a case."""
    seen = imports.known(shop, [row.digest for row in table.good])
    cases = imports.cases(shop, [row.order.case for row in table.good if row.order.case])
    new, old = [], []
    for row in table.good:
        if row.digest in seen or row.order.case in cases:
            what = "this case" if row.order.case in cases else "this row"
            old.append(BadCell(line=row.line, cell=1, column=None, detail=f"{what} is there already"))
        else:
            seen.add(row.digest)
            new.append(row)
    return new, old
