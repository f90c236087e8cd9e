"""Journals in both databases: all or nothing, one shop apart from another, what is personal apart from the rest."""

import threading
from dataclasses import replace
from datetime import timedelta

import journals
import pytest
from journals import AT, journal

from advisor.contract.event import ERASED, Event
from advisor.errors import StoreError, UnknownCaseError, UsageError
from advisor.store.place import url_of, usual_place
from advisor.store.records import CaseRow, Key, Wanted
from advisor.store.store import Store

ROW = CaseRow("case-1", "shop", "belt-reminder", "A-17", "open", AT, AT, 1)
KEY = Key("shop", "", "POST /v1/cases", "key-1", "f" * 64)


def opened(store, row=ROW, **body):
    """Open a case."""
    store.write(lambda w: w.open(row, [journals.opened(**body)]))


def events(store, case="case-1"):
    """Give a case's journal."""
    return store.read(lambda r: r.events([case]))[case]


def test_a_journal_comes_back_as_it_went_in(store):
    """Moments keep their zone and microseconds, numbers every digit, texts every character."""
    at = AT + timedelta(microseconds=1)
    body = {"test": "t", "value": 0.1 + 0.2, "unit": "Ω ° 🚐", "tiny": 5e-324, "deep": {"a": [1, None, True]}}
    opened(store)
    added = Event(1, 2, at, "jürgen", "finding", body)
    store.write(lambda w: w.append(replace(ROW, version=2, changed_at=at), [added]))
    assert events(store) == (journals.opened(), added)
    assert store.read(lambda r: r.row("shop", "case-1")) == replace(ROW, version=2, changed_at=at)


def test_a_moment_without_zone_is_refused(store):
    """The store does not guess a time zone."""
    with pytest.raises(Exception, match="without time zone"):
        opened(store, replace(ROW, opened_at=AT.replace(tzinfo=None)))


def test_work_that_fails_writes_nothing(store):
    """An error in the middle takes everything of its transaction with it."""

    def work(writing):
        writing.open(ROW, [journals.opened()])
        raise ValueError("in the middle")

    with pytest.raises(ValueError, match="in the middle"):
        store.write(work)
    with pytest.raises(UnknownCaseError):
        store.read(lambda r: r.row("shop", "case-1"))


def test_a_seq_is_there_once(store):
    """The same place of a journal is never written twice, whatever the writer believes."""
    opened(store)
    with pytest.raises(StoreError, match="another writer"):
        store.write(lambda w: w.append(replace(ROW, version=1), [journals.opened()]))
    assert len(events(store)) == 1


def test_no_shop_sees_another(store):
    """Rows, pages and keys are asked for by shop."""
    opened(store)
    store.write(lambda w: w.keep(KEY, "case-1", 1, AT))
    with pytest.raises(UnknownCaseError):
        store.read(lambda r: r.row("other", "case-1"))
    assert store.read(lambda r: r.page(Wanted("other"))).rows == ()
    for other in (replace(KEY, shop="other"), replace(KEY, token="t"), replace(KEY, route="r"), replace(KEY, key="k")):
        assert store.read(lambda r, other=other: r.kept(other, AT)) is None
    assert store.read(lambda r: r.kept(KEY, AT)).case == "case-1"


def test_keys_are_kept_seven_days(store):
    """A key is known just before its seventh day ends, unknown after, and gone with the next key."""
    opened(store)
    store.write(lambda w: w.keep(KEY, "case-1", 1, AT))
    week = timedelta(days=7)
    assert store.read(lambda r: r.kept(KEY, AT + week - timedelta(seconds=1))) is not None
    assert store.read(lambda r: r.kept(KEY, AT + week)) is None
    store.write(lambda w: w.keep(replace(KEY, key="key-2"), "case-1", 1, AT + week))
    store.write(lambda w: w.keep(KEY, "case-1", 1, AT + week))


def test_pages_are_newest_first_and_whole(store):
    """Walking the pages gives each case once, in falling order; filters hold on every page."""
    for number in range(25):
        moment = AT + timedelta(days=number)
        row = CaseRow(
            f"case-{number}",
            "shop",
            "blower" if number % 3 else "belt-reminder",
            f"ref-{number % 5}",
            "closed" if number % 2 else "open",
            moment,
            moment,
            1,
        )
        opened(store, row)

    def walk(**filters):
        found, wanted = [], Wanted("shop", limit=4, **filters)
        while True:
            page = store.read(lambda r, wanted=wanted: r.page(wanted))
            found += [int(row.id.removeprefix("case-")) for row in page.rows]
            if page.before is None:
                return found
            wanted = replace(wanted, before=page.before)

    numbers = range(24, -1, -1)
    assert walk() == list(numbers)
    assert walk(state="closed") == [n for n in numbers if n % 2]
    assert walk(circuit="belt-reminder") == [n for n in numbers if n % 3 == 0]
    assert walk(reference="ref-2", state="open") == [n for n in numbers if n % 5 == 2 and n % 2 == 0]
    assert walk(since=AT + timedelta(days=20)) == [24, 23, 22, 21, 20]


def test_what_is_personal_is_erased_alone(store, place):
    """After erasing, words and names read as erased, everything else stays, and no file holds them any more."""
    opened(store, words="it squeaks, says Ms Unmistakable", identity="QX-PLATE-77", reference="A-17")
    rest = journal(
        ("note", {"text": "called Ms Unmistakable"}),
        ("authorised", {"minutes": 60.0, "whom": "Ms Unmistakable"}),
        ("closed", {"complaint": "Ms Unmistakable's lamp", "cause": "wire", "correction": "new wire"}),
    )[1:]
    store.write(lambda w: w.append(replace(ROW, version=4), rest))
    assert events(store)[1].body["text"] == "called Ms Unmistakable"
    store.write(lambda w: w.erase("case-1"))
    store.compact()
    first, note, authorised, closed = (event.body for event in events(store))
    assert (first["words"], first["identity"], note["text"]) == (ERASED, ERASED, ERASED)
    assert (authorised["whom"], authorised["minutes"], closed["complaint"]) == (ERASED, 60.0, ERASED)
    assert (first["reference"], closed["cause"]) == ("A-17", "wire")
    if "://" not in place:
        held = b"".join(path.read_bytes() for path in store_files(place))
        assert b"belt-reminder" in held
        assert b"Unmistakable" not in held and b"QX-PLATE" not in held


def store_files(place):
    """Give the files of an SQLite store."""
    from pathlib import Path

    return list(Path(place).parent.glob("cases.sqlite*"))


def test_a_reader_sees_one_moment(store, place):
    """What is written between two questions of a reader is seen by the next reader, not by this one."""
    opened(store)
    other = Store(place)

    def work(reading):
        before = reading.row("shop", "case-1")
        note = Event(1, 2, AT, "eva", "note", {"text": "x"})
        other.write(lambda w: w.append(replace(ROW, version=2, state="closed"), [note]))
        return before, reading.row("shop", "case-1"), reading.events(["case-1"])["case-1"]

    before, after, journal_ = store.read(work)
    assert (before, len(journal_)) == (after, 1)
    assert store.read(lambda r: r.row("shop", "case-1")).version == 2
    other.close()


def test_two_writers_of_one_case_take_turns(store):
    """Of writers that add to what they read, each adds once and none is lost."""
    opened(store)

    def add(name):
        def work(writing):
            row = writing.row("shop", "case-1", to_write=True)
            event = Event(1, row.version + 1, AT, name, "note", {"text": name})
            writing.append(replace(row, version=event.seq), [event])

        for _ in range(20):
            store.write(work)

    writers = [threading.Thread(target=add, args=(f"writer-{number}",)) for number in range(4)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    journal_ = events(store)
    assert [event.seq for event in journal_] == list(range(1, 82))
    assert sorted({event.by for event in journal_[1:]}) == [f"writer-{number}" for number in range(4)]
    assert store.read(lambda r: r.row("shop", "case-1")).version == 81


def test_a_file_is_safe_and_its_owners_alone(tmp_path):
    """SQLite writes ahead, waits for the disk, and lets nobody else read."""
    store = Store(str(tmp_path / "new" / "cases.sqlite"))
    opened(store)
    with store._writer.connect() as connection:
        settings = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout", "secure_delete")
        }
    assert settings == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "busy_timeout": 10_000,
        "secure_delete": 1,
    }
    assert (tmp_path / "new").stat().st_mode & 0o077 == 0
    assert [path.stat().st_mode & 0o077 for path in (tmp_path / "new").iterdir()] == [0, 0, 0]
    store.close()


def test_where_cases_are_kept(monkeypatch, tmp_path):
    """ADVISOR_STORE names a path or a URL; without it the user's data folder holds a file."""
    monkeypatch.setenv("ADVISOR_STORE", "x.sqlite")
    assert usual_place() == "x.sqlite"
    monkeypatch.delenv("ADVISOR_STORE")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert usual_place() == str(tmp_path / "advisor" / "cases.sqlite")
    assert url_of(str(tmp_path / "a b.sqlite")).database == str(tmp_path / "a b.sqlite")
    assert url_of("postgresql://h/d").drivername == "postgresql+psycopg"
    assert url_of(f"sqlite:///{tmp_path}/c").database == f"{tmp_path}/c"
    for wrong in ("mysql://h/d", "sqlite://", "://", "http://x"):
        with pytest.raises(UsageError):
            url_of(wrong)
