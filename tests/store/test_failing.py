"""A database that is full, away, busy or broken is told as what it is, and comes back by itself."""

import sqlite3

import journals
import pytest
from databases import Server
from journals import AT

from advisor.errors import StoreAwayError, StoreError, StoreFullError
from advisor.store.connecting import make_file
from advisor.store.records import CaseRow
from advisor.store.store import Store

ROW = CaseRow("case-1", "shop", "belt-reminder", None, "open", AT, AT, 1)


def test_a_full_disk_writes_nothing(tmp_path):
    """SQLite without another page says full; what was written before is there, and so is the store."""
    store = Store(str(tmp_path / "cases.sqlite"))
    store.write(lambda w: w.open(ROW, [journals.opened()]))
    with store._writer.begin() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    big = journals.journal(("note", {"text": "x" * 50_000}))[1:]
    with pytest.raises(StoreFullError, match="nothing was written"):
        store.write(lambda w: w.append(ROW, big))
    assert len(store.read(lambda r: r.events(["case-1"]))["case-1"]) == 1
    store.close()


def test_a_full_postgresql_says_so(server):
    """The server's own state for a full disk is told as full."""
    store = Store(server.database("template_cases"))
    store.check()
    with pytest.raises(StoreFullError):
        store.write(lambda w: w._connection.exec_driver_sql("DO $$ BEGIN RAISE SQLSTATE '53100'; END $$"))
    store.close()


def test_a_server_that_stops_is_away_and_comes_back():
    """While the server is down every use is away; when it is up again, the same store works."""
    server = Server().start()
    try:
        store = Store(server.database())
        store.upgrade()
        store.write(lambda w: w.open(ROW, [journals.opened()]))
        server.pause()
        for _ in range(2):
            with pytest.raises(StoreAwayError):
                store.read(lambda r: r.row("shop", "case-1"))
        server.resume()
        assert store.read(lambda r: r.row("shop", "case-1")).id == "case-1"
        store.close()
    finally:
        server.stop()


def test_a_server_that_was_never_there_is_away(tmp_path):
    """No socket, no server: away, not broken."""
    store = Store(f"postgresql://postgres@/x?host={tmp_path}")
    with pytest.raises(StoreAwayError):
        store.check()
    store.close()


def test_a_folder_that_cannot_be_made_is_away(tmp_path):
    """A file where the folder should be is told."""
    (tmp_path / "data").write_text("a file")
    with pytest.raises(StoreAwayError, match="cannot be opened"):
        Store(str(tmp_path / "data" / "cases.sqlite")).check()


def test_a_busy_file_is_away(tmp_path, monkeypatch):
    """A writer that does not end makes the next one give up after its time."""
    monkeypatch.setattr("advisor.store.connecting.BUSY_SECONDS", 0.2)
    store = Store(str(tmp_path / "cases.sqlite"))
    store.check()
    holder = sqlite3.connect(tmp_path / "cases.sqlite", isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreAwayError):
        store.write(lambda w: w.open(ROW, [journals.opened()]))
    holder.execute("ROLLBACK")
    store.write(lambda w: w.open(ROW, [journals.opened()]))
    holder.close()
    store.close()


def test_a_file_that_is_no_database_is_broken(tmp_path):
    """Any other file is neither used nor changed."""
    place = tmp_path / "cases.sqlite"
    place.write_text("a letter, not a database\n" * 100)
    store = Store(str(place))
    make_file(store.url)
    with pytest.raises(StoreError, match="cannot be used") as broken:
        store.check()
    assert not isinstance(broken.value, StoreAwayError | StoreFullError)
    assert place.read_text().startswith("a letter")
    store.close()
