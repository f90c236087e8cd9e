"""Rows of another system's orders: what each can be rejected for, with line, cell and reason."""

import csv
import io
import json
from datetime import UTC, datetime
from itertools import combinations, pairwise

import pandas as pd
import pytest
from architecture.sources import ROOT
from hypothesis import given, settings
from hypothesis import strategies as st
from shipped_models import small_model

from advisor.contract.nearest import unknown
from advisor.errors import OrdersFileError, UnknownModelError
from advisor.knowledge.fields import known_keys
from advisor.refit.columns import ORDER_COLUMNS, UNITS
from advisor.refit.mapping import MAPPING, OWN, read_mapping
from advisor.refit.odometer import Read, misread
from advisor.refit.reading import orders_parquet, read_orders, rejects_csv

NOW = datetime(2026, 7, 1, tzinfo=UTC)
KNOWN = ("belt-reminder", "engine-runs-hot", "reversing-lamps")
GOOD = {
    "reference": "A-1",
    "circuit": "belt-reminder",
    "opened_at": "2026-03-01T08:00:00Z",
    "closed_at": "2026-03-02T10:00:00Z",
    "years": "5",
    "hours": "4000",
    "odometer_km": "100000",
    "symptom": "lamp-stays-dark",
    "findings": '[{"test":"look.belt-lamp.prove-out","outcome":"dark"}]',
    "repairs": "repair-F8 gone",
    "causes": "F8/open",
    "cause_status": "confirmed",
    "minutes": "30",
    "shop": "north",
    "vehicle": "v1",
}


def load(name):
    """Give one of three small models."""
    if name not in KNOWN:
        raise UnknownModelError(unknown("circuit", name, KNOWN))
    return small_model(name)


def read(tmp_path, raw, mapping=OWN):
    """Read bytes or rows as a file of orders."""
    path = tmp_path / "orders.csv"
    path.write_bytes(raw if isinstance(raw, bytes) else table(*raw))
    return read_orders(path, load, NOW, mapping)


def table(*rows):
    """Give rows as CSV."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, GOOD)
    writer.writeheader()
    writer.writerows({**GOOD, **row} for row in rows)
    return text.getvalue().encode()


WRONG = [
    ("reference", " ", "missing"),
    ("circuit", "belt-remainder", "unknown-circuit"),
    ("symptom", "lamp-on-fire", "unknown-symptom"),
    ("causes", "F99/open", "unknown-part"),
    ("causes", "F8/burst", "unknown-mode"),
    ("findings", "[{", "unreadable-findings"),
    ("findings", '{"test": "x"}', "unreadable-findings"),
    ("findings", '[{"test": "x", "outcome": "y"}]', "unknown-test"),
    ("findings", '[{"test": "look.belt-lamp.prove-out", "outcome": "y"}]', "wrong-finding"),
    ("repairs", "repair-F99 gone", "unknown-repair"),
    ("repairs", "repair-F8 mended", "unknown-result"),
    ("closed_at", "2027-01-01", "date-in-future"),
    ("closed_at", "1926-03-02", "date-too-old"),
    ("closed_at", "2026-02-28", "closed-before-opened"),
    ("closed_at", "02.03.2026", "not-a-date"),
    ("closed_at", "1772445600", "not-a-date"),
    ("years", "-1", "negative"),
    ("years", "2021", "out-of-range"),
    ("hours", "60000", "units-mixed"),
    ("odometer_km", "nan", "not-a-number"),
    ("odometer_km", "900000", "units-mixed"),
    ("minutes", "half a day", "not-a-number"),
    ("minutes", "0.5", "units-mixed"),
    ("minutes", "5400", "units-mixed"),
    ("cause_status", "sure", "unknown-value"),
    ("shop", "x" * 201, "too-long"),
    ("shop", "caf\ufffd", "wrong-encoding"),
    ("shop", "cafÃ©", "wrong-encoding"),
    ("shop", "a\x00b", "wrong-form"),
]


def test_each_wrong_cell_is_named(tmp_path):
    """One wrong cell in a row between good ones: line, cell, column and the short name of the reason are told."""
    good = [{"reference": f"G-{number}", "vehicle": f"w{number}"} for number in range(len(WRONG))]
    bad = [{"reference": f"B-{i}", "vehicle": f"b{i}", column: text} for i, (column, text, _) in enumerate(WRONG)]
    found = read(tmp_path, [row for pair in zip(bad, good, strict=True) for row in pair])
    assert (found.rows, len(found.accepted), found.rejected) == (2 * len(WRONG), len(WRONG), len(WRONG))
    told = {(r.line, r.cell, r.column, r.name) for r in found.reasons}
    for number, (column, _, reason) in enumerate(WRONG):
        assert (2 + 2 * number, list(GOOD).index(column) + 1, column, reason) in told
    assert {line for line, *_ in told} == {2 + 2 * number for number in range(len(WRONG))}
    assert found.accepted["reference"].tolist() == [row["reference"] for row in good]


def test_all_reasons_of_a_row_are_told(tmp_path):
    """A row that is wrong five times is rejected once, with five reasons, in the rejects file as it stands."""
    row = {"symptom": "x", "causes": "F99/open", "years": "-1", "minutes": "0.1", "closed_at": "2030-01-01"}
    found = read(tmp_path, [row])
    assert [r.name for r in found.reasons] == [
        *("date-in-future", "negative", "unknown-symptom", "unknown-part", "units-mixed"),
    ]
    kept = list(csv.reader(io.StringIO(rejects_csv(found), newline="")))
    assert kept[0] == ["line", "reasons", *GOOD]
    assert (kept[1][0], kept[1][2:]) == ("2", list({**GOOD, **row, "years": "'-1"}.values()))
    assert all(name in kept[1][1] for name in ("negative", "date-in-future", "units-mixed", "unknown-part"))


def test_rows_that_are_none(tmp_path):
    """Ragged rows, an open quote and bytes that are no text take no other row with them."""
    lines = table({}, {"reference": "A-2", "vehicle": "v2"}).splitlines(keepends=True)
    raw = b"".join([*lines[:2], b"A,b\r\n", b'"A,b\r\n', b"\r\n", lines[2].replace(b"north", b"n\xf6rd"), lines[2]])
    found = read(tmp_path, raw)
    assert [(r.line, r.name) for r in found.reasons] == [(3, "ragged-row"), (4, "not-csv"), (6, "wrong-encoding")]
    assert (found.rows, found.accepted.index.tolist()) == (5, [2, 7])
    assert "n\\xf6rd" not in rejects_csv(found) and "n\udcf6rd" in rejects_csv(found)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ((b"symptom", b"sympton"), "unknown-column"),
        ((b"closed_at", b"years"), "column-twice"),
        ((b"circuit", b"shop"), "missing-column"),
        ((b"reference", b'"'), "not-csv"),
    ],
)
def test_without_a_header_no_row_is_taken(tmp_path, change, reason):
    """A header that cannot be understood is told at line 1, and every row is rejected because of it."""
    found = read(tmp_path, table({}, {"reference": "A-2"}).replace(*change, 1))
    assert (found.rows, found.rejected) == (2, 2)
    assert reason in {r.name for r in found.reasons if r.line == 1}
    assert {(r.line, r.name) for r in found.reasons if r.line > 1} == {(2, "no-columns"), (3, "no-columns")}


def test_other_encodings_are_named(tmp_path):
    """UTF-16 without a mapping is told; an empty file lacks its columns; no file is an error with its address."""
    found = read(tmp_path, table({}).decode().encode("utf-16"))
    assert "wrong-encoding" in {r.name for r in found.reasons if r.line == 1}
    assert len(found.accepted) == 0
    assert {r.name for r in read(tmp_path, b"").reasons} == {"missing-column"}
    with pytest.raises(OrdersFileError, match=r"nowhere\.csv:1:1: cannot be read"):
        read_orders(tmp_path / "nowhere.csv", load, NOW)
    with pytest.raises(OrdersFileError, match="no sound Parquet"):
        read(tmp_path, b"PAR1" + table({}))


def test_duplicates_keep_the_first_good_one(tmp_path):
    """Of equal orders the first without another fault stays; other shops and circuits have numbers of their own."""
    rows = [{"years": "x"}, {}, {"cause_status": "believed"}, {"shop": "south"}, {"shop": ""}]
    found = read(tmp_path, [{**row, "vehicle": f"v{number}"} for number, row in enumerate(rows)])
    assert {(r.line, r.name) for r in found.reasons} == {
        *((2, "not-a-number"), (2, "duplicate-order"), (4, "duplicate-order")),
    }
    assert found.accepted.index.tolist() == [3, 5, 6]


def test_parquet_says_the_same(tmp_path):
    """Accepted orders written as Parquet are accepted again, value by value; a bad one is told by its row."""
    first = read(tmp_path, [{"reference": f"A-{n}", "vehicle": f"v{n}"} for n in range(3)]).accepted
    path = tmp_path / "orders.parquet"
    path.write_bytes(orders_parquet(first))
    again = read_orders(path, load, NOW)
    pd.testing.assert_frame_equal(again.accepted.reset_index(drop=True), first.reset_index(drop=True))
    path.write_bytes(orders_parquet(first.assign(causes=["F8/open", "F8/open", "nothing/open"])))
    assert [(r.line, r.column, r.name) for r in read_orders(path, load, NOW).reasons] == [(4, "causes", "unknown-part")]


def fewest_out(readings):
    """The slow twin: how few readings have to go so that the rest never falls, by trying all subsets."""
    ordered = sorted(readings, key=lambda r: (r.day, r.km, r.line))
    for size in range(len(ordered), -1, -1):
        for kept in combinations(ordered, size):
            if all(a.km <= b.km for a, b in pairwise(kept)):
                return len(ordered) - size
    raise AssertionError("the empty subset never falls")


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 8)), max_size=8))
def test_the_fewest_odometers_are_blamed(drawn):
    """As few readings go backwards as any choice leaves out, and the rest never falls."""
    readings = [Read(day, km * 100.0, 5.0, line) for line, (day, km) in enumerate(drawn)]
    blamed = {wrong.line for wrong in misread(readings) if wrong.name == "odometer-backwards"}
    assert len(blamed) == fewest_out(readings)
    left = sorted((r for r in readings if r.line not in blamed), key=lambda r: (r.day, r.km))
    assert all(a.km <= b.km for a, b in pairwise(left))


@pytest.mark.parametrize(
    ("kilometres", "names"),
    [
        ([60_000, 61_000, 62_000], {}),
        ([60_000, 37_900, 62_000], {1: {"odometer-backwards", "units-mixed"}}),  # 61,000 km in miles
        ([60_000, 61_000, 99_800], {2: {"units-mixed"}}),  # 62,000 mi, 1.609 times
        ([60_000, 6_100, 62_000], {1: {"odometer-backwards"}}),
        ([60_000, 61_000, 620_000], {2: {"odometer-jumps"}}),
        ([620_000, 61_000, 62_000], {0: {"odometer-backwards"}}),
    ],
)
def test_units_are_told_from_slips(kilometres, names):
    """A reading that fits once it is taken as miles is told from one that fits in no unit."""
    found = {}
    for wrong in misread([Read(20.0 * n, km, 5.0, n) for n, km in enumerate(kilometres)]):
        found.setdefault(wrong.line, set()).add(wrong.name)
    assert found == names


def test_the_example_of_another_system(tmp_path):
    """Seven job cards with other names, units, dates and values: four become orders, three are told why not."""
    mapping = read_mapping(ROOT / "datasets" / "mapping-example.yaml")
    found = read_orders(ROOT / "datasets" / "other-system.csv", load, NOW, mapping)
    assert [(r.line, r.cell, r.column, r.name) for r in found.reasons] == [
        (6, 3, "Complaint", "unknown-value"),
        (7, 4, "Date in", "not-a-date"),
        (8, 6, "Mileage", "units-mixed"),
    ]
    first, third = found.accepted.iloc[0], found.accepted.iloc[2]
    assert (first["odometer_km"], first["minutes"]) == pytest.approx((41_250 * 1.609344, 30.0))
    assert (first["opened_at"].isoformat(), first["years"]) == ("2026-03-02T07:10:00+00:00", pytest.approx(62 / 12))
    assert (first["causes"], first["came_back"], first["climate"]) == ("buckle-switch/stuck-open", "false", "salted")
    assert (third["causes"], third["shop"], third["cost"]) == ("fan-motor/stands", "quayside", 310.2)


BAD_MAPPING = """format: mapping/1
columns:
  reference: {from: No, always: x}
  circuit: {from: System, unit: km}
  odometer_km: {from: Way, unit: leagues}
  minuets: {from: Time}
  years: {from: Age, date: "%Y"}
"""


def test_a_mapping_file_tells_all_that_is_wrong(tmp_path):
    """Every problem has file, line and column: two sources, unknown units and columns, one that is missing."""
    path = tmp_path / "m.yaml"
    path.write_text(BAD_MAPPING)
    with pytest.raises(OrdersFileError) as error:
        read_mapping(path)
    told = [(p.line, p.message.split(",")[0]) for p in error.value.problems]
    assert [line for line, _ in told] == [1, 3, 4, 4, 5, 6, 7]
    said = str(error.value)
    for words in (
        "closed_at of an order is missing",
        "'from' or the key 'always'",
        "'leagues'",
        "'minuets'",
        "no moment",
    ):
        assert words in said
    assert f"{path}:6:3" in said


def test_columns_and_reasons_are_documented():
    """The card of the data sets describes each column of order/1 and each reason."""
    card = (ROOT / "datasets" / "README.md").read_text(encoding="utf-8")
    assert [name for name in ORDER_COLUMNS if f"`{name}`" not in card] == []
    reasons = {reason for *_, reason in WRONG} | {
        "odometer-backwards",
        "odometer-jumps",
        "duplicate-order",
        "no-columns",
    }
    reasons = {f"-{r.partition('-')[2]}" if r.startswith("unknown-") and r != "unknown-value" else r for r in reasons}
    assert [reason for reason in reasons if f"{reason}`" not in card] == []


def test_keys_and_units_of_mapping_files_are_documented():
    """The card of the data sets names each key of a mapping file and each unit."""
    card = (ROOT / "datasets" / "README.md").read_text(encoding="utf-8").partition("### Mapping files")[2]
    words = {*known_keys(MAPPING), *(unit for units in UNITS.values() for unit in units)} - {"km", "years"}
    assert {"from", "ignore", "mi"} <= words
    assert [word for word in sorted(words) if f"`{word}`" not in card and f"`{word}:" not in card] == []


def test_json_of_findings_is_read_as_the_import_does(tmp_path):
    """Duplicate keys and deep nesting in findings are refused, as the service refuses them."""
    deep = json.dumps([[[[[[[[[[[[[[[1]]]]]]]]]]]]]]])
    twice = '[{"test":"look.belt-lamp.prove-out","outcome":"dark","outcome":"lit"}]'
    found = read(tmp_path, [{"findings": deep}, {"reference": "B", "findings": twice}])
    assert [r.name for r in found.reasons] == ["unreadable-findings"] * 2
