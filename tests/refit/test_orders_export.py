"""What the service exports of its own cases is taken as orders, as CSV and as Parquet."""

import json
from datetime import UTC, datetime

import pytest
from journals import AT, journal, opened
from shipped_models import small_model

from advisor.cases.orders import orders_csv, orders_of, with_comebacks
from advisor.cases.parquet import orders_parquet
from advisor.refit.patterns import patterns
from advisor.refit.reading import read_orders
from advisor.store.records import CaseRow

CLOSED = {"cause": "fuse", "correction": "fuse replaced", "cause_status": "confirmed", "causes": ["F8/open"]}
EVENTS = [
    ("finding", {"test": "look.belt-lamp.prove-out", "outcome": "dark"}),
    ("finding", {"test": "volts.C12-1.reminding", "value": 0.2, "unit": "V"}),
    ("repair", {"repair": "repair-F8", "result": "stays"}),
    ("finding", {"test": "look.belt-lamp.prove-out", "outcome": "dark"}),
    ("repair", {"repair": "replace-buckle", "result": "gone"}),
    ("spent", {"money": 80.0}),
    ("closed", CLOSED),
]


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_an_export_is_taken_whole(tmp_path, form):
    """Two closed cases, one without a number of the shop's own, come in as they went out, and are patterns."""
    rows = [CaseRow(id, "north", "belt-reminder", None, "closed", AT, AT, 9) for id in ("case-1", "case-2")]
    journals = {
        "case-1": (opened(reference=None), *journal(*EVENTS)[1:]),
        "case-2": (opened(reference="=A-2"), *journal(("comeback", {"of": "case-1"}), *EVENTS)[1:]),
    }
    told = with_comebacks(orders_of(rows, journals))
    path = tmp_path / f"orders.{form}"
    path.write_bytes(orders_csv(told).encode() if form == "csv" else orders_parquet(told))
    read = read_orders(path, small_model, datetime(2030, 1, 1, tzinfo=UTC))
    assert (read.rows, read.reasons) == (2, ())
    first, second = read.accepted.to_dict("records")
    assert (first["reference"], second["reference"], first["came_back"]) == ("case-1", "=A-2", "true")
    assert (first["cost"], first["shop"], second["comeback_of"]) == (80.0, "north", "case-1")
    assert [found["kind"] for found in json.loads(first["findings"])] == [
        *("symptom", "outcome", "reading", "repair", "outcome")
    ]
    counted = patterns(read.accepted)
    assert counted["repairs"].tolist() == ["repair-F8 stays; replace-buckle gone"] * 2
    assert sorted(counted["came_back"]) == ["", "yes"]
