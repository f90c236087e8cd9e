"""Patterns of orders: counted by hand, by rows, by columns, in files, after interruptions, and on a cluster."""

import json
import logging
import math
from collections import Counter

import numpy as np
import pandas as pd
import pyarrow
import pytest
from pyarrow import parquet

from advisor.errors import OrdersFileError, UsageError
from advisor.refit import counting, jobs
from advisor.refit.columns import ORDER_COLUMNS, PATTERN_COLUMNS
from advisor.refit.counting import as_patterns, count_file, count_tables, frame, merged, reduced
from advisor.refit.jobs import MANIFEST, count_orders, write_patterns
from advisor.refit.patterns import patterns

FINDINGS = ['[{"test": "a", "outcome": "x"}]', '[{"outcome":"x","test":"a"}]', "[]", "", '[{"test":"b","outcome":"é"}]']


def drawn(count, seed=1):
    """Draw orders in which every column varies, some of it unknown, equal patterns being written differently."""
    rng = np.random.default_rng(seed)

    def of(*values):
        """A column drawn from some values."""
        return [values[place] for place in rng.integers(len(values), size=count)]

    months = pd.to_datetime(rng.integers(1_700_000_000, 1_706_000_000, count), unit="s", utc=True)
    return pd.DataFrame(
        {
            "reference": [str(number) for number in range(count)],
            "circuit": of("horn", "blower"),
            "symptom": of("dead", "faint", None),
            "findings": of(*FINDINGS),
            "repairs": of("repair-F8  gone", "repair-F8 gone", "a stays;b gone"),
            "causes": of("b/open; a/short", "a/short;b/open", None),
            "cause_status": of("confirmed", "unknown"),
            "came_back": of("true", "false", None),
            "followed_days": of(None, 12.0, 30.0, 89.0, 500.0),
            "years": of(None, 0.0, 2.0, 3.9, 77.0),
            "hours": of(None, 100.0, 1e5),
            "shop": of("north", "south"),
            "closed_at": months,
        }
    )


def by_rows(orders):
    """The slow twin: one row after the other, in plain Python, without pandas or Arrow."""

    def band(number, edges):
        """The middle of the band that a number is in."""
        if number is None or math.isnan(number):
            return None
        place = max(i for i, edge in enumerate(edges[:-1]) if number >= edge)
        return (edges[place] + edges[place + 1]) / 2

    def known(value):
        """A text, or nothing."""
        return value if isinstance(value, str) else ""

    counts = Counter()
    for row in orders.to_dict("records"):
        days = 0 if math.isnan(row["followed_days"]) else row["followed_days"]
        counts[
            row["circuit"],
            known(row["symptom"]),
            json.dumps(json.loads(row["findings"] or "[]"), sort_keys=True, separators=(",", ":")),
            "; ".join(" ".join(repair.split()) for repair in row["repairs"].split(";")),
            "; ".join(sorted(cause.strip() for cause in known(row["causes"]).split(";") if cause)),
            row["cause_status"],
            {"true": "yes", "false": "no"}.get(row["came_back"], ""),
            max(edge for edge in (0, 30, 90, 365) if days >= edge),
            band(row["years"], (0, 1, 2, 4, 6, 8, 10, 12, 15, 20, 30, 40)),
            band(row["hours"], (0, 250, 500, 1000, 2000, 3000, 4500, 6000, 8000, 12000, 20000, 30000)),
            *("", "", row["shop"], row["closed_at"].strftime("%Y-%m")),
        ] += 1
    return counts


def as_counts(table):
    """A table of patterns as what the slow twin gives."""
    rows = table.astype(object).where(table.notna(), None).to_numpy().tolist()
    return Counter({tuple(row[:-1]): row[-1] for row in rows})


def test_patterns_are_those_of_a_slow_twin():
    """Texts alike, bands, months and counts agree row by row, and the columns stand in their order."""
    orders = drawn(3000)
    found = patterns(orders)
    assert list(found.columns) == list(PATTERN_COLUMNS)
    assert as_counts(found) == by_rows(orders)
    assert found["count"].sum() == 3000 and len(found) < 3000
    assert found.sort_values(list(PATTERN_COLUMNS[:-1]), ignore_index=True).equals(found)


def test_missing_columns_say_nothing():
    """A table of two columns has patterns, all else unknown; no orders have none."""
    found = patterns(pd.DataFrame({"circuit": ["horn", "horn"], "closed_at": ["2026-01-31T23:30:00-02:00", None]}))
    assert found["period"].tolist() == ["", "2026-02"]
    assert found["years"].isna().all() and found["findings"].tolist() == ["[]", "[]"]
    assert len(patterns(pd.DataFrame({name: [] for name in ORDER_COLUMNS}))) == 0
    assert len(frame(merged([]))) == 0


@pytest.mark.parametrize("texts", [False, True])
@pytest.mark.parametrize("size", [5000, 700])
def test_columns_count_as_rows_do(size, texts):
    """However the table is cut, and whether numbers and moments come as such or as texts, counts are equal exactly."""
    orders = drawn(4000)
    written = orders.assign(closed_at=orders["closed_at"].map(lambda moment: moment.isoformat())) if texts else orders
    if texts:
        written = written.assign(years=[("" if math.isnan(x) else f"{x:g}") for x in orders["years"]])
    table = pyarrow.Table.from_pandas(written, preserve_index=False)
    cut = [table.slice(start, size) for start in range(0, len(table), size)]
    pd.testing.assert_frame_equal(frame(count_tables(cut)), patterns(orders), check_exact=True)


def test_numbers_that_grow_too_large_are_ranked_again(monkeypatch):
    """Where the product of all columns' values does not fit a number, the result is the same."""
    table = as_patterns(pyarrow.Table.from_pandas(drawn(2000), preserve_index=False))
    usual = reduced(table)
    monkeypatch.setattr(counting, "_LARGEST_CODE", 3000)
    monkeypatch.setattr(counting, "WAITING_ROWS", 100)
    assert frame(reduced(table)).equals(frame(usual))
    cut = merged(reduced(table.slice(start, 300)) for start in range(0, 2000, 300))
    assert frame(cut).equals(frame(usual))


@pytest.fixture
def shelf(tmp_path):
    """Give a folder of four Parquet files and the orders in them."""
    folder = tmp_path / "orders"
    folder.mkdir()
    parts = [drawn(800, seed) for seed in range(4)]
    for number, part in enumerate(parts):
        part.to_parquet(folder / f"{number}.parquet", index=False, row_group_size=300)
    return folder, pd.concat(parts)


def test_a_job_is_what_one_table_gives(shelf, tmp_path, monkeypatch):
    """Four files in small batches give what one frame gives; a single file may be named as well."""
    monkeypatch.setattr(counting, "ROWS_AT_ONCE", 250)
    folder, orders = shelf
    seen = []
    counted = count_orders(folder, tmp_path / "work", progress=lambda *told: seen.append(told))
    pd.testing.assert_frame_equal(frame(counted), patterns(orders), check_exact=True)
    assert [done for _, done, total in seen if total == 4] == [0, 1, 2, 3, 4]
    write_patterns(counted, tmp_path / "patterns.parquet")
    assert frame(parquet.read_table(tmp_path / "patterns.parquet")).equals(frame(counted))
    assert frame(count_orders(folder / "2.parquet", tmp_path / "other")).equals(frame(count_file(folder / "2.parquet")))


def test_an_interrupted_job_goes_on(shelf, tmp_path, monkeypatch):
    """Killed in the third file, the next run counts two; a file that has changed is counted anew, its old part goes."""
    folder, orders = shelf
    work, done, count = tmp_path / "work", [], count_file

    def counted(path):
        """Count files until the third."""
        done.append(path.name)
        if len(done) == 3:
            raise KeyboardInterrupt
        return count(path)

    monkeypatch.setattr(jobs, "count_file", counted)
    with pytest.raises(KeyboardInterrupt):
        count_orders(folder, work)
    assert len(list(work.glob("*.parquet"))) == 2
    (work / "x.parquet.9.new").write_bytes(b"half of a part")  # what a power cut leaves
    again = count_orders(folder, work)
    assert done == ["0.parquet", "1.parquet", "2.parquet", "2.parquet", "3.parquet"]
    assert frame(again).equals(patterns(orders))
    drawn(5, 9).to_parquet(folder / "0.parquet", index=False)
    assert sum(count_orders(folder, work)["count"].to_pylist()) == 2405
    assert done[5:] == ["0.parquet"]
    told = json.loads((work / MANIFEST).read_text())
    assert sorted(told["parts"]) == sorted(part.name for part in work.glob("*.parquet"))


def test_what_cannot_be_counted_is_named(shelf, tmp_path):
    """A damaged file, findings that are no JSON, no file and no scheduler are errors in words, with the file."""
    folder, _ = shelf
    with pytest.raises(OrdersFileError, match="no folder with some"):
        count_orders(tmp_path / "nothing", tmp_path / "work")
    (folder / "1.parquet").write_bytes(b"PAR1 and no more")
    with pytest.raises(OrdersFileError, match=r"1\.parquet:1:1: cannot be counted"):
        count_orders(folder, tmp_path / "work")
    drawn(3).assign(findings="[{").to_parquet(folder / "1.parquet", index=False)
    with pytest.raises(OrdersFileError, match=r"1\.parquet:1:1: cannot be counted"):
        count_orders(folder, tmp_path / "work")
    with pytest.raises(UsageError, match="no Dask scheduler"):
        count_orders(folder, tmp_path / "work", scheduler="nonsense")


def test_two_workers_give_what_one_machine_gives(shelf, tmp_path):
    """A Dask cluster of two processes counts the same patterns, and a damaged file is named from there too."""
    from distributed import LocalCluster

    folder, orders = shelf
    told = []
    quiet = {"silence_logs": logging.CRITICAL, "dashboard_address": ":0"}
    with LocalCluster(n_workers=2, threads_per_worker=1, host="127.0.0.1", **quiet) as cluster:
        address = cluster.scheduler_address
        counted = count_orders(
            folder, tmp_path / "work", scheduler=address, progress=lambda _, done, __: told.append(done)
        )
        (folder / "3.parquet").write_bytes(b"PAR1 and no more")
        with pytest.raises(OrdersFileError, match=r"3\.parquet:1:1: cannot be counted"):
            count_orders(folder, tmp_path / "work", scheduler=address)
    assert told == [0, 1, 2, 3, 4]
    pd.testing.assert_frame_equal(frame(counted), patterns(orders), check_exact=True)
