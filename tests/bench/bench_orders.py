"""Ten million orders on one machine, and the same on one and two Dask workers; a hundred damaged files.

    python -m bench.bench_orders [--orders 10000000] [--files 20] [--many] [--damaged 100]

Run from `tests`. Orders are rows of the shipped demo, drawn with replacement; each gets a month of its own, with --many
also an age, running hours and a shop, so that nearly every order is a pattern of its own.
"""

from __future__ import annotations

import argparse
import logging
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow
from architecture.sources import ROOT
from pyarrow import parquet

from advisor.refit.columns import ORDER_COLUMNS
from advisor.refit.counting import frame
from advisor.refit.jobs import count_orders
from advisor.refit.patterns import patterns

DEMO = ROOT / "datasets" / "demo-orders.csv"
SHOPS = np.array(["harbour", "hillside", "market", "airfield"])
CHECKED = 200_000
"""So many orders are also counted by the plain frame, which is the twin."""


def good_rows() -> pd.DataFrame:
    """The rows of the demo that are whole and have JSON and dates, without loading a model."""
    rows = pd.read_csv(DEMO, dtype=str, keep_default_na=False, encoding_errors="replace", on_bad_lines="skip")
    whole = rows["closed_at"].str.match(r"202[3-6]-..-..T") & rows["findings"].str.match(r"^(\[.*\])?$")
    rows = rows[whole & rows["minutes"].str.match(r"\d+$") & rows["years"].str.match(r"\d")]
    assert tuple(rows.columns) == ORDER_COLUMNS
    return rows.reset_index(drop=True)


def write(folder: Path, count: int, files: int, many: bool) -> None:
    """Write orders as Parquet files of equal size."""
    base = pyarrow.Table.from_pandas(good_rows(), preserve_index=False)
    for name in ("years", "hours", "odometer_km", "parts_price", "minutes", "followed_days", "cost"):
        numbers = pd.to_numeric(base[name].to_pandas()).to_numpy(dtype=float)
        base = base.set_column(base.column_names.index(name), name, pyarrow.array(numbers, from_pandas=True))
    for number in range(files):
        rng, size = np.random.default_rng([1, number]), count // files
        table = base.take(pyarrow.array(rng.integers(len(base), size=size)))
        days = rng.integers(0, 1095 * 86_400, size).astype("timedelta64[s]")
        told = {"closed_at": pyarrow.array(np.datetime64("2023-07-01", "s") + days, pyarrow.timestamp("us", "UTC"))}
        told["reference"] = pyarrow.array(np.arange(number * size, (number + 1) * size).astype(str))
        if many:
            told["years"] = pyarrow.array(rng.uniform(0.0, 25.0, size))
            told["hours"] = pyarrow.array(rng.uniform(0.0, 25_000.0, size))
            told["shop"] = pyarrow.array(SHOPS[rng.integers(len(SHOPS), size=size)])
        for name, column in told.items():
            table = table.set_column(table.column_names.index(name), name, column)
        parquet.write_table(table, folder / f"{number:03d}.parquet")


def timed(source: Path, work: Path, scheduler: str | None = None) -> tuple[float, pyarrow.Table]:
    """Count once and give the time by the clock [s] and the patterns."""
    began = time.perf_counter()
    counted = count_orders(source, work, scheduler=scheduler)
    return time.perf_counter() - began, counted


def one_machine(source: Path, work: Path) -> None:
    """Count in this process, and print time, patterns and the process' peak memory."""
    seconds, counted = timed(source, work)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    orders = sum(counted["count"].to_pylist())
    print(
        f"one machine: {orders:,} orders, {len(counted):,} patterns, {seconds:.1f} s, "
        f"{orders / seconds:,.0f} orders/s, peak {peak:,.0f} MB",
        flush=True,
    )


def on_workers(source: Path, folder: Path, wanted: pyarrow.Table) -> None:
    """Count on one and on two workers, and hold the numbers against the one-machine result."""
    from distributed import LocalCluster

    for workers in (1, 2):
        with LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            host="127.0.0.1",
            dashboard_address=":0",
            silence_logs=logging.CRITICAL,
        ) as cluster:
            seconds, counted = timed(source, folder / f"work-{workers}", cluster.scheduler_address)
        columns = zip(counted.columns, wanted.columns, strict=True)
        same = len(counted) == len(wanted) and all(
            np.array_equal(a.to_pandas().astype(object).fillna(""), b.to_pandas().astype(object).fillna(""))
            for a, b in columns
        )
        print(f"{workers} Dask workers: {seconds:.1f} s, equal to one machine: {same}", flush=True)


def check_damaged(count: int) -> None:
    """Read damaged files; each is held against what whoever damaged it knows."""
    from refit.test_demo import check_damaged as check

    with tempfile.TemporaryDirectory() as folder:
        ways = Counter(way for seed in range(count) for way in check(Path(folder), seed).split(" and "))
    print(f"{count} damaged files: each row accepted or rejected with its address; ways: {dict(ways)}")


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--orders", type=int, default=10_000_000)
    parser.add_argument("--files", type=int, default=20)
    parser.add_argument("--many", action="store_true")
    parser.add_argument("--damaged", type=int, default=0)
    parser.add_argument("--count", nargs=2, type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.count:
        one_machine(*options.count)
        return
    if options.damaged:
        check_damaged(options.damaged)
        return
    folder = Path(tempfile.mkdtemp(prefix="orders-"))
    try:
        bench(folder, options)
    finally:
        shutil.rmtree(folder)


def bench(folder: Path, options: argparse.Namespace) -> None:
    """Write the orders, count them here in a process of its own, then on workers."""
    source = folder / "orders"
    source.mkdir()
    began = time.perf_counter()
    write(source, options.orders, options.files, options.many)
    size = sum(file.stat().st_size for file in source.iterdir()) / 1e6
    print(f"written: {options.files} files, {size:,.0f} MB, {time.perf_counter() - began:.0f} s", flush=True)
    few = parquet.read_table(source / "000.parquet").slice(0, CHECKED)
    parquet.write_table(few, folder / "few.parquet")
    twin = patterns(few.to_pandas())
    equal = frame(count_orders(folder / "few.parquet", folder / "work-few")).equals(twin)
    print(f"{len(few):,} orders by the plain frame: {len(twin):,} patterns, equal: {equal}", flush=True)
    command = [sys.executable, "-m", "bench.bench_orders", "--count", str(source), str(folder / "work")]
    subprocess.run(command, check=True)
    on_workers(source, folder, count_orders(source, folder / "work"))


if __name__ == "__main__":
    main()
