"""Closed cases as a table: what stands in it, what must not, and no formulas."""

import csv
import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from journals import AT, journal, opened

from advisor.cases.orders import COLUMNS, orders_csv, orders_of, with_comebacks
from advisor.contract.event import PERSONAL
from advisor.contract.order_cells import active, inert
from advisor.store.records import CaseRow

ROW = CaseRow("case-1", "shop", "belt-reminder", None, "closed", AT, AT, 9)
CLOSED = {
    "complaint": "SECRET complaint",
    "cause": "switch worn",
    "correction": "switch replaced",
    "cause_status": "confirmed",
    "causes": ["buckle-switch/stuck-open"],
    "parts": [{"part": "buckle", "price": 140.0}, {"part": "screw", "count": 2, "price": 0.5}],
    "minutes": [{"step": "look", "minutes": 2.5}, {"step": "replace", "minutes": 30}],
    "proved_good": ["F8", "G2"],
}


def table(first, *events):
    """Give the one row of a journal's table."""
    text = orders_csv(orders_of([ROW], {"case-1": (first, *journal(*events)[1:])}))
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert len(rows) == 1
    assert tuple(rows[0]) == COLUMNS
    return rows[0]


def test_a_closed_case_is_a_row():
    """Everything that analysts need stands in its column."""
    row = table(
        opened(reference="A-17", vehicle={"years": 4.5, "hours": 1200.0, "odometer_km": 81234.5}),
        ("finding", {"test": "t", "value": 0.30000000000000004, "unit": "V"}),
        ("repair", {"repair": "buckle-side", "result": "gone"}),
        ("closed", CLOSED),
    )
    assert (row["reference"], row["years"], row["odometer_km"], row["minutes"]) == ("A-17", "4.5", "81234.5", "32.5")
    assert (row["parts"], row["parts_price"]) == ("1 x buckle; 2 x screw", "141")
    assert (row["repairs"], row["causes"]) == ("buckle-side gone", "buckle-switch/stuck-open")
    assert json.loads(row["findings"])[1]["value"] == 0.30000000000000004
    assert row["priors"] == "handbook-1"


def test_a_comeback_is_told_of_the_order_that_it_comes_back_from():
    """The earlier order of two linked cases came back after so many days; of the later one nothing is known."""
    first = {"case": "a", "opened_at": "2026-03-01T08:00:00+00:00", "closed_at": "2026-03-02T08:00:00+00:00"}
    later = {"case": "b", "opened_at": "2026-03-12T20:00:00+00:00", "comeback_of": "a"}
    assert with_comebacks([later, first]) == [later, {**first, "came_back": "true", "followed_days": 10.5}]
    assert with_comebacks([first]) == [first]


def test_what_was_spent_is_the_cost():
    """Money that went into the case stands in its own column, beside the shop; nothing known is nothing written."""
    spent = [("spent", {"money": 20.5}), ("spent", {"minutes": 5.0}), ("spent", {"money": 4.0})]
    row = table(opened(), *spent, ("closed", CLOSED))
    assert (row["cost"], row["shop"]) == ("24.5", "shop")
    assert table(opened(), ("closed", CLOSED))["cost"] == ""


def test_nothing_personal_leaves():
    """No text of a personal field stands in the table, whichever event held it."""
    texts = {(kind, name): f"SECRET-{kind}-{name}" for kind, names in PERSONAL.items() for name in names}
    first = opened(words=texts["opened", "words"], identity=texts["opened", "identity"])
    row = table(
        first,
        ("note", {"text": texts["note", "text"]}),
        ("authorised", {"minutes": 1.0, "whom": texts["authorised", "whom"]}),
        ("work-declined", {"what": "x", "whom": texts["work-declined", "whom"]}),
        ("closed", {**CLOSED, "complaint": texts["closed", "complaint"]}),
    )
    assert "SECRET" not in json.dumps(row)


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n"])
def test_no_cell_starts_a_formula(start):
    """Wherever a person's text begins like a formula, an apostrophe stands before it."""
    evil = f'{start}HYPERLINK("http://x")'
    row = table(
        opened(reference=evil),
        ("not-fit", {"until": evil}),
        ("closed", {**CLOSED, "cause": evil, "correction": evil, "causes": [evil], "proved_good": [evil]}),
    )
    for column in ("reference", "cause", "correction", "causes", "proved_good", "not_fit_until"):
        assert row[column] == f"'{evil}"
    assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n")) for cell in row.values())


def test_an_unknown_price_makes_no_total():
    """A part without price leaves the total empty, and so does no part."""
    for parts in ([{"part": "a", "price": 1.0}, {"part": "b"}], []):
        assert table(opened(), ("closed", {**CLOSED, "parts": parts}))["parts_price"] == ""


@given(st.text())
def test_a_cell_comes_back_as_it_was(text):
    """What was made inert is told apart from what was so from the beginning, for every text."""
    assert active(inert(text)) == text
    assert not inert(text).startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
