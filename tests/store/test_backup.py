"""Copies of a store in use, and putting one back."""

import sqlite3
import threading
from dataclasses import replace

import journals
import pytest
from journals import AT

from advisor.contract.event import Event
from advisor.errors import SchemaError, StoreError, UsageError
from advisor.store.backup import backup, restore
from advisor.store.records import CaseRow
from advisor.store.store import Store

ROW = CaseRow("case-1", "shop", "belt-reminder", None, "open", AT, AT, 1)


def quiet(_done, _count):
    """Tell nobody."""


@pytest.fixture
def full(tmp_path):
    """Give a store in a file, with one case."""
    store = Store(str(tmp_path / "cases.sqlite"))
    store.write(lambda w: w.open(ROW, [journals.opened()]))
    yield store
    store.close()


def count(place) -> int:
    """Count the events of the case in a store."""
    store = Store(str(place))
    try:
        return len(store.read(lambda r: r.events(["case-1"]))["case-1"])
    finally:
        store.close()


def append(store, seq):
    """Add a note."""
    note = Event(1, seq, AT, "anna", "note", {"text": "x"})
    store.write(lambda w: w.append(replace(ROW, version=seq), [note]))


def test_a_copy_holds_what_was_there(full, tmp_path):
    """The copy is one file for its owner alone, and a store by itself."""
    append(full, 2)
    backup(full, tmp_path / "copy.sqlite", quiet)
    assert (tmp_path / "copy.sqlite").stat().st_mode & 0o077 == 0
    assert sorted(path.name for path in tmp_path.glob("*copy*")) == ["copy.sqlite"]
    assert count(tmp_path / "copy.sqlite") == 2


def test_a_copy_is_never_written_over(full, tmp_path):
    """An older copy of the same name stays."""
    (tmp_path / "copy.sqlite").write_text("older")
    with pytest.raises(UsageError, match="there already"):
        backup(full, tmp_path / "copy.sqlite", quiet)
    assert (tmp_path / "copy.sqlite").read_text() == "older"


def test_copies_while_others_write_are_whole(full, tmp_path):
    """Each copy taken under a writer is a journal without gaps, and no write is lost to it."""
    stop = threading.Event()
    wrote = []

    def keep_writing():
        while not stop.is_set():
            append(full, len(wrote) + 2)
            wrote.append(None)

    writer = threading.Thread(target=keep_writing)
    writer.start()
    try:
        for number in range(5):
            backup(full, tmp_path / f"copy-{number}", quiet)
    finally:
        stop.set()
        writer.join()
    counts = [count(tmp_path / f"copy-{number}") for number in range(5)]
    assert counts == sorted(counts)
    assert count(tmp_path / "cases.sqlite") == len(wrote) + 1 > counts[0]


def test_what_was_copied_comes_back(full, tmp_path):
    """A backup goes into an empty place; over cases only when told, and those are kept aside."""
    backup(full, tmp_path / "copy", quiet)
    append(full, 2)
    empty = Store(str(tmp_path / "new" / "cases.sqlite"))
    assert restore(empty, tmp_path / "copy", quiet, replaces=False) is None
    empty.close()
    assert count(tmp_path / "new" / "cases.sqlite") == 1
    with pytest.raises(UsageError, match="--replace"):
        restore(full, tmp_path / "copy", quiet, replaces=False)
    kept = restore(full, tmp_path / "copy", quiet, replaces=True)
    assert (count(tmp_path / "cases.sqlite"), count(kept)) == (1, 2)
    append(full, 2)
    assert count(tmp_path / "cases.sqlite") == 2


def test_what_is_no_backup_is_not_put_in_place(full, tmp_path):
    """No file, another file, a damaged one, another database, a newer release's: refused, and the cases stay."""
    letter, other, newer = tmp_path / "letter", tmp_path / "other", tmp_path / "newer"
    letter.write_text("dear " * 1000)
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE letters (a)")
    connection.close()
    backup(full, newer, quiet)
    with sqlite3.connect(newer) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    damaged = tmp_path / "damaged"
    damaged.write_bytes(newer.read_bytes()[:9000])
    for file, error in (
        (tmp_path / "nothing", UsageError),
        (letter, StoreError),
        (damaged, StoreError),
        (other, UsageError),
        (newer, SchemaError),
    ):
        with pytest.raises(error):
            restore(full, file, quiet, replaces=True)
    assert count(tmp_path / "cases.sqlite") == 1


def test_a_server_is_copied_by_its_own_tools(server, tmp_path):
    """For PostgreSQL the way is named."""
    store = Store(server.database())
    for act in (
        lambda: backup(store, tmp_path / "copy", quiet),
        lambda: restore(store, tmp_path / "copy", quiet, replaces=True),
    ):
        with pytest.raises(UsageError, match="pg_dump"):
            act()
    store.close()


def test_long_copies_tell_how_far_they_are(full, tmp_path, monkeypatch):
    """Progress counts up to all pages."""
    monkeypatch.setattr("advisor.store.backup.PAGES_AT_ONCE", 3)
    told = []
    backup(full, tmp_path / "copy", lambda done, count: told.append((done, count)))
    assert len(told) > 2
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert told[-1][0] == told[-1][1]
