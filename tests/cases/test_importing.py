"""Repair orders that are taken in: every row is accepted or rejected with its place, and comes out as it went in."""

import csv
import io

import fakes
import pytest
from journals import AT

from advisor.cases.book import CaseBook, Write
from advisor.cases.importing import MAX_ROWS, read_table
from advisor.cases.order_book import OrderBook
from advisor.contract.case_queries import OrdersQuery
from advisor.contract.order_rows import COLUMNS, NotCsvError
from advisor.errors import ImportLimitError, KeyReusedError
from advisor.store.records import Key

HEAD = "reference,circuit,closed_at,symptom,causes,years,findings\r\n"
GOOD = "A-1,belt-reminder,2026-03-02T10:00:00Z,lamp-stays-dark,F8/open,4.5,\r\n"


@pytest.fixture
def orders(store):
    """Give the orders of a store in either database."""
    return OrderBook(store, fakes.engine(), lambda: AT)


def taken(orders, text, write=None):
    """Take in a text."""
    return orders.take_in(text.encode(), write or Write())


def exported(orders, **query):
    """Give the rows of the export."""
    return list(csv.DictReader(io.StringIO(orders.export("shop", OrdersQuery(**query)), newline="")))


def test_rows_come_out_as_they_went_in(orders):
    """Numbers, moments, causes and findings stand in the export, marked as imported."""
    findings = '"[{""test"": ""look.belt-lamp.prove-out"", ""outcome"": ""dark""}]"'
    text = HEAD + GOOD + f"=A+2,other-lamp,2026-03-03,,,,{findings}\r\n"
    done = taken(orders, text)
    assert (done.rows, done.accepted, done.rejected, done.errors) == (2, 2, 0, ())
    second, first = exported(orders)
    assert tuple(first) == tuple(COLUMNS)
    assert (first["reference"], first["closed_at"], first["years"], first["causes"], first["source"]) == (
        *("A-1", "2026-03-02T10:00:00+00:00", "4.5", "F8/open", "import"),
    )
    assert (second["reference"], second["closed_at"]) == ("'=A+2", "2026-03-03T00:00:00+00:00")
    assert "prove-out" in second["findings"]
    assert [row["reference"] for row in exported(orders, circuit="belt-reminder")] == ["A-1"]
    assert exported(orders, since="2026-03-03") == [second]


WRONG = {
    ",belt-reminder,2026-03-02,,,,": ("reference", "missing"),
    "A,belt-remainder,2026-03-02,,,,": ("circuit", "belt-reminder"),
    "A,belt-reminder,,,,,": ("closed_at", "missing"),
    "A,belt-reminder,soon,,,,": ("closed_at", ""),
    "A,belt-reminder,2026-03-02,lamp-on-fire,,,": ("symptom", "lamp-on-fire"),
    "A,belt-reminder,2026-03-02,,F99/open; F8/open,,": ("causes", "F99"),
    "A,belt-reminder,2026-03-02,,,old,": ("years", ""),
    "A,belt-reminder,2026-03-02,,,-1,": ("years", ""),
    "A,belt-reminder,2026-03-02,,,nan,": ("years", ""),
    "A,belt-reminder,2026-03-02,,,,{": ("findings", "JSON"),
    "A,belt-reminder,2026-03-02,,,,7": ("findings", "list"),
    "A,belt-reminder,2026-03-02,,,,[7]": ("findings", "finding 1"),
    'A,belt-reminder,2026-03-02,,,,"[{""test"": ""nope"", ""outcome"": ""dark""}]"': ("findings", "nope"),
    "A\x00,belt-reminder,2026-03-02,,,,": ("reference", "NUL"),
    f"{'x' * 201},belt-reminder,2026-03-02,,,,": ("reference", ""),
    "A,belt-reminder,2026-03-02": (None, "expected 7 cells, found 3"),
    "A,belt-reminder,2026-03-02,,,,,,": (None, "expected 7 cells, found 9"),
}


def test_every_bad_row_is_told_with_its_place(orders):
    """Bad rows among good ones: each is named by line and column, and the good ones are kept."""
    names = HEAD.strip().split(",")
    body = "".join(f"{row}\r\n{GOOD.replace('A-1', f'G-{number}')}" for number, row in enumerate(WRONG))
    done = taken(orders, HEAD + body)
    assert (done.rows, done.accepted, done.rejected) == (2 * len(WRONG), len(WRONG), len(WRONG))
    told = {bad.line: bad for bad in done.errors}
    assert sorted(told) == list(range(2, 2 + 2 * len(WRONG), 2))
    for line, (column, said) in zip(sorted(told), WRONG.values(), strict=True):
        assert told[line].column == column, told[line]
        assert said in told[line].detail
        if column:
            assert told[line].cell == names.index(column) + 1
    assert len(exported(orders)) == len(WRONG)


def test_lines_count_as_an_editor_counts_them(orders):
    """A cell over several lines moves the rows after it; an empty line is none."""
    text = (
        "reference,circuit,closed_at,correction\n"
        + 'A,belt-reminder,2026-03-02,"one\ntwo\nthree"\n\nB,nope,2026-03-02,\n'
    )
    done = taken(orders, text)
    assert (done.rows, [(bad.line, bad.cell) for bad in done.errors]) == (2, [(6, 2)])


def test_several_wrongs_of_a_row_are_all_told(orders):
    """One round trip tells everything, and a row counts once."""
    done = taken(orders, HEAD + ",nope,soon,,,x,\r\n")
    assert (done.rejected, {bad.column for bad in done.errors}) == (1, {"reference", "closed_at", "years"})


def test_the_same_again_adds_nothing(orders):
    """A row that is there already is rejected, in one table, and when the table is sent again."""
    first = taken(orders, HEAD + GOOD + GOOD)
    assert (first.accepted, first.errors[0].line) == (1, 3)
    again = taken(orders, HEAD + GOOD)
    assert (again.accepted, "already" in again.errors[0].detail) == (0, True)
    other = taken(orders, HEAD + GOOD, Write("south"))
    assert other.accepted == 1
    assert len(exported(orders)) == 1


def test_a_key_repeats_the_answer(orders):
    """With a key the same table gives the same answer, and another one is refused."""
    write = Write(key=Key("shop", "t", "POST /v1/repair-orders", "k", "f"))
    first = taken(orders, HEAD + GOOD, write)
    assert taken(orders, HEAD + GOOD, write) == first
    with pytest.raises(KeyReusedError):
        taken(orders, HEAD, write)
    assert len(exported(orders)) == 1


def test_an_export_is_no_second_case(orders, store):
    """What comes from a case of the shop is refused when its export is sent in; elsewhere it is taken whole."""
    book = CaseBook(store, fakes.engine(), lambda: AT)
    case = book.open({"circuit": "belt-reminder", "reference": "=1+1", "symptom": "lamp-stays-dark"}, Write()).id
    closed = {"kind": "closed", "body": {"cause": "-x", "correction": "y", "cause_status": "believed"}}
    book.append(case, {"events": [closed]}, Write(seen=frozenset({1})))
    text = orders.export("shop", OrdersQuery())
    assert "already" in taken(orders, text).errors[0].detail
    assert taken(orders, text, Write("south")).accepted == 1
    mine, theirs = (
        next(csv.DictReader(io.StringIO(orders.export(shop, OrdersQuery()), newline=""))) for shop in ("shop", "south")
    )
    assert {**mine, "source": ""} == {**theirs, "source": ""}


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"\xff\xfe", "UTF-8"),
        (b"", "closed_at is missing"),
        (b"reference,circuit\r\n", "closed_at is missing"),
        (b"reference,circuit,closed_at,customer\r\n", "customer"),
        (b"reference,circuit,closed_at,reference\r\n", "twice"),
        (b'reference,circuit,closed_at\r\n"A,b\r\n', "line 2"),
        (b'reference,circuit,closed_at\r\nA,"b"c,d\r\n', "line 2"),
    ],
)
def test_what_is_no_table_is_refused_whole(raw, said):
    """Without a header that can be read no row is taken."""
    with pytest.raises(NotCsvError, match=said):
        read_table(raw, fakes.engine())


def test_limits():
    """Too many rows, and rows that take too long, are refused whole."""
    with pytest.raises(ImportLimitError, match="at most"):
        read_table((HEAD + "x\r\n" * (MAX_ROWS + 1)).encode(), fakes.engine())
    clock = iter(range(0, 1000, 9))
    with pytest.raises(ImportLimitError, match="longer than 20 s"):
        read_table((HEAD + GOOD * 9).encode(), fakes.engine(), lambda: next(clock))
    assert read_table(("﻿" + HEAD + GOOD).encode(), fakes.engine()).rows == 1


def test_parquet_keeps_types_and_texts(orders):
    """The same rows with moments and numbers as such, and texts without the apostrophe that spreadsheets need."""
    from pyarrow import parquet

    taken(orders, HEAD + GOOD.replace("A-1", "=A"))
    table = parquet.read_table(io.BytesIO(orders.export("shop", OrdersQuery(format="parquet"))))
    assert table.column_names == list(COLUMNS)
    (row,) = table.to_pylist()
    assert (row["reference"], row["years"], row["closed_at"].isoformat()) == ("=A", 4.5, "2026-03-02T10:00:00+00:00")
    assert row["symptom"] == "lamp-stays-dark" and row["hours"] is None
    assert str(table.schema.field("closed_at").type) == "timestamp[us, tz=UTC]"
