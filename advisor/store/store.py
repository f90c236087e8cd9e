"""The store of cases: one database, used a transaction at a time."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import closing
from typing import TypeVar

from sqlalchemy import Connection
from sqlalchemy.exc import IntegrityError

from advisor.errors import StoreError
from advisor.store import schema
from advisor.store.connecting import WRITES, engine_of, is_file, make_file
from advisor.store.failing import told
from advisor.store.journals import Journals
from advisor.store.place import url_of

ATTEMPTS = 4
SNAPSHOT = "REPEATABLE READ"
Given = TypeVar("Given")


class Store:
    """Cases in an SQLite file or in PostgreSQL; made without connecting, and closed by `close`.

    Raises:
        UsageError: the place is no store.
    """

    def __init__(self, place: str) -> None:
        self.url = url_of(place)
        self._engine = engine_of(self.url)
        self._writer = self._engine.execution_options(**{WRITES: True})
        # One moment for everything that a reader asks, which SQLite gives by itself.
        self._reader = self._engine if is_file(self.url) else self._engine.execution_options(isolation_level=SNAPSHOT)
        self._lock = threading.Lock()
        self._is_ready = False

    @property
    def name(self) -> str:
        """The place as a person names it, without a password."""
        return self.url.database or "" if is_file(self.url) else self.url.render_as_string(hide_password=True)

    def read(self, work: Callable[[Journals], Given]) -> Given:
        """Run work on journals in a transaction that only reads; raises StoreError and what the work raises."""
        return self.reading(lambda connection: work(Journals(connection)))

    def write(self, work: Callable[[Journals], Given]) -> Given:
        """Run work on journals in a transaction, as `writing` does."""
        return self.writing(lambda connection: work(Journals(connection)))

    def reading(self, work: Callable[[Connection], Given]) -> Given:
        """Run work in a transaction that only reads; raises StoreError and what the work raises."""
        self.prepare()
        with told(), self._reader.begin() as connection:
            return work(connection)

    def writing(self, work: Callable[[Connection], Given]) -> Given:
        """Run work in a transaction, all of it or nothing; it is run again if another writer came between.

        Raises:
            StoreAwayError: the database does not answer, or is busy for too long.
            StoreFullError: there is no room.
        """
        self.prepare()
        between: IntegrityError | None = None
        for _ in range(ATTEMPTS):
            try:
                with told(), self._writer.begin() as connection:
                    return work(connection)
            except IntegrityError as error:  # the same row was added by another first; the next run sees it
                between = error
        raise StoreError("another writer came between each time") from between

    def prepare(self) -> None:
        """Check the tables once; an SQLite file without any gets them; raises SchemaError and StoreError."""
        with self._lock:
            if self._is_ready:
                return
            if is_file(self.url):
                make_file(self.url)
            with told(), self._writer.begin() as connection:
                self._check(connection)
            self._is_ready = True

    def check(self) -> str:
        """Ask the database whether it can be used now, and name the revision of its tables; raises StoreError."""
        self.prepare()
        with told(), self._engine.begin() as connection:
            return schema.revision(connection) or ""

    def upgrade(self) -> str:
        """Bring the tables to this release's and name their revision; raises SchemaError if they are newer."""
        if is_file(self.url):
            make_file(self.url)
        with told(), self._writer.begin() as connection:
            schema.upgrade(connection)
            return schema.newest()

    def compact(self) -> None:
        """Let nothing that was erased linger in an SQLite file's log."""
        if is_file(self.url):
            with told(), closing(self._engine.raw_connection()) as connection:
                connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def close(self) -> None:
        """Let go of all connections."""
        self._engine.dispose()

    def _check(self, connection: Connection) -> None:
        if is_file(self.url) and schema.is_empty(connection):
            schema.upgrade(connection)
        schema.check(connection)
