"""What a database raises, as errors of the project: away for now, full, or broken."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError, TimeoutError

from advisor.errors import StoreAwayError, StoreError, StoreFullError

# SQLite's primary result codes: https://sqlite.org/rescode.html
_FULL, _AWAY = (sqlite3.SQLITE_FULL,), (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_CANTOPEN)
# PostgreSQL's: https://www.postgresql.org/docs/current/errcodes-appendix.html
_DISK_FULL = "53100"
_AWAY_STATES = ("08", "57P", "53300", "40")

FULL = "there is no room left to write in the store; nothing was written"
AWAY = "the store of cases does not answer now; nothing is known to be written"


@contextmanager
def told() -> Iterator[None]:
    """Raise StoreAwayError, StoreFullError or StoreError for what a database raises inside.

    A row that is there already passes as it is, for the writer to try again.
    """
    try:
        yield
    except IntegrityError:
        raise
    except TimeoutError as error:
        raise StoreAwayError(AWAY) from error
    except DBAPIError as error:
        raise _own(error) from error


def _own(error: DBAPIError) -> StoreError:
    return _of_sqlite(error.orig) if isinstance(error.orig, sqlite3.Error) else _of_postgresql(error)


def _of_sqlite(error: sqlite3.Error) -> StoreError:
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    if code in _FULL:
        return StoreFullError(FULL)
    return StoreAwayError(AWAY) if code in _AWAY else StoreError(f"the store of cases cannot be used: {error}")


def _of_postgresql(error: DBAPIError) -> StoreError:
    state = getattr(error.orig, "sqlstate", None)
    if state == _DISK_FULL:
        return StoreFullError(FULL)
    # Without a state the server has not spoken: no connection, or one that broke.
    lost = error.connection_invalidated or (state is None and isinstance(error, OperationalError))
    if lost or (state or "").startswith(_AWAY_STATES):
        return StoreAwayError(AWAY)
    return StoreError(f"the store of cases cannot be used: {type(error.orig).__name__}")
