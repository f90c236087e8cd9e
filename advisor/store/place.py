"""Which database holds the cases: ADVISOR_STORE, or a file in the user's data folder."""

from __future__ import annotations

import os
from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from advisor.errors import UsageError

STORE_VARIABLE = "ADVISOR_STORE"
"""Environment variable that names the store: the path of an SQLite file, or the URL of a PostgreSQL database."""
FILE = "cases.sqlite"


def usual_place() -> str:
    """Give the store of this user: ADVISOR_STORE, or cases.sqlite in the user's data folder."""
    named = os.environ.get(STORE_VARIABLE)
    if named:
        return named
    home = os.environ.get("XDG_DATA_HOME") or os.environ.get("LOCALAPPDATA")
    return str((Path(home) if home else Path.home() / ".local" / "share") / "advisor" / FILE)


def url_of(place: str) -> URL:
    """Give the URL of a store that is named by a URL or by the path of a file; raises UsageError."""
    if "://" not in place:
        return URL.create("sqlite", database=str(Path(place).expanduser().absolute()))
    try:
        url = make_url(place)
    except ArgumentError as error:
        raise UsageError(f"{STORE_VARIABLE} is neither a path nor the URL of a database") from error
    kind = url.get_backend_name()
    if kind in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if kind == "sqlite" and url.database and url.database != ":memory:":
        return URL.create("sqlite", database=str(Path(url.database).absolute()))
    raise UsageError(f"cases are kept in an SQLite file or in PostgreSQL, not in {kind}")
