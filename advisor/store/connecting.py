"""Connections to the two databases, set up so that what was acknowledged stays."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event

from advisor.errors import StoreAwayError, UsageError

BUSY_SECONDS = 10
CONNECT_SECONDS = 5
WRITES = "advisor_writes"
"""Execution option of a connection whose transactions write."""


def is_file(url: URL) -> bool:
    """Tell whether a store is an SQLite file."""
    return url.get_backend_name() == "sqlite"


def engine_of(url: URL) -> Engine:
    """Give the engine of a store; nothing is connected yet."""
    if is_file(url):
        engine = create_engine(url, connect_args={"timeout": BUSY_SECONDS}, hide_parameters=True)
        event.listen(engine, "connect", _set_up)
        event.listen(engine, "begin", _begin)
        return engine
    try:
        # What is written may name a person: errors show the statement alone.
        return create_engine(
            url, pool_pre_ping=True, connect_args={"connect_timeout": CONNECT_SECONDS}, hide_parameters=True
        )
    except ModuleNotFoundError as error:
        raise UsageError("PostgreSQL needs the extra postgres: pip install 'advisor[postgres]'") from error


def make_file(url: URL) -> None:
    """Make the empty file of an SQLite store, for its owner alone; one that is there stays; raises StoreAwayError."""
    path = Path(url.database or "")
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
    except OSError as error:
        raise StoreAwayError(f"the store's file cannot be opened: {error.strerror}") from error


def _set_up(connection: Any, _record: object) -> None:  # noqa: ANN401 - the driver's own connection
    # Transactions are begun by _begin; the driver's own way begins them late, and only to write.
    connection.isolation_level = None
    for pragma in (
        f"busy_timeout={BUSY_SECONDS * 1000}",
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        "secure_delete=ON",
    ):
        connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get(WRITES, False)
    # A transaction that begins by reading and then writes could only fail where another has written meanwhile.
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
