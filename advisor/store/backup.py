"""Copies of an SQLite store while it is in use, and putting one back."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from advisor.errors import SchemaError, StoreError, UsageError
from advisor.store import schema
from advisor.store.connecting import BUSY_SECONDS, is_file
from advisor.store.store import Store

PAGES_AT_ONCE = 1000
Told = Callable[[int, int], None]


def backup(store: Store, target: Path, told: Told) -> None:
    """Copy a store into a new file, written aside and renamed; `told` hears (pages done, pages in all).

    Raises:
        UsageError: the store is no file, or the target is there already.
        StoreError: a copy failed or is not whole.
    """
    source = _file(store)
    if target.exists():
        raise UsageError(f"{target} is there already; name a new file")
    store.check()
    aside = target.with_name(f".{target.name}.part")
    try:
        _copy(source, aside, told)
        _settle(aside)
        _check_whole(aside)
        os.replace(aside, target)
    finally:
        aside.unlink(missing_ok=True)


def restore(store: Store, source: Path, told: Told, *, replaces: bool) -> Path | None:
    """Put a backup in the place of a store, brought to this release's tables; give where the store before is kept.

    Raises:
        UsageError: the store is no file, the backup is none, or cases are there and `replaces` is not set.
        SchemaError: a newer release made the backup.
        StoreError: a copy failed or is not whole.
    """
    target = _file(store)
    _check_whole(source)
    _check_is_store(source)
    earlier = None
    if target.exists() and target.stat().st_size:
        if not replaces:
            raise UsageError(f"{target} holds cases already; --replace keeps them aside and puts the backup there")
        earlier = _free_name(target)
        backup(store, earlier, told)
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    _copy(source, target, told)
    store.upgrade()
    return earlier


def _file(store: Store) -> Path:
    if not is_file(store.url):
        raise UsageError("the cases are in PostgreSQL: use its own tools, such as pg_dump and pg_restore")
    return Path(store.url.database or "")


def _free_name(target: Path) -> Path:
    names = (target.with_name(f"{target.name}.before-restore-{number}") for number in range(1, 10_000))
    return next(name for name in names if not name.exists())


def _copy(source: Path, target: Path, told: Told) -> None:
    """Copy by SQLite's online backup: a consistent state, whoever writes meanwhile."""
    os.close(os.open(target, os.O_CREAT | os.O_RDWR, 0o600))
    try:
        with (
            closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_SECONDS)) as old,
            closing(sqlite3.connect(target, timeout=BUSY_SECONDS)) as new,
        ):
            old.backup(new, pages=PAGES_AT_ONCE, progress=lambda _, left, count: told(count - left, count))
    except sqlite3.Error as error:
        raise StoreError(f"the copy failed: {error}") from error


def _check_whole(file: Path) -> None:
    if not file.is_file():
        raise UsageError(f"there is no file {file}")
    try:
        with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as connection:
            found = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
    except sqlite3.Error as error:
        raise StoreError(f"{file} is no whole SQLite file: {error}") from error
    if found != "ok":
        raise StoreError(f"{file} is damaged: {found}")


def _check_is_store(file: Path) -> None:
    """Refuse a file that is no store of cases, or a newer release's; raises UsageError and SchemaError."""
    with closing(sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        try:
            found = connection.execute("SELECT version_num FROM alembic_version").fetchone()
        except sqlite3.OperationalError as error:
            raise UsageError(f"{file} is no backup of cases") from error
    if found is None or not schema.is_known(found[0]):
        raise SchemaError(f"{file} is of another release than this one")


def _settle(file: Path) -> None:
    """Make a copy one file that needs no log beside it, so that it can be read from anywhere."""
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")
