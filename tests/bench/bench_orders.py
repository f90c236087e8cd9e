"""Ten million orders on one machine, and the same on one and two Dask workers; a hundred damaged files.

    python -m bench.bench_orders [--orders 10000000] [--files 20] [--rounds 3] [--many] [--damaged 100]

Run from `tests`. Orders are rows of the shipped demo, drawn with replacement; each gets a month of its own, with --many
also an age, running hours and a shop, so that nearly every order is a pattern of its own.
"""

from __future__ import annotations

import argparse
import logging
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow
from architecture.sources import ROOT
from distributed import Client, LocalCluster
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


@dataclass(frozen=True)
class Spent:
    """What counting took: by the clock, of the processors in all and in the parent after the last part [s], memory."""

    clock: float
    processor: float
    after: float
    peak_mb: float

    def __str__(self) -> str:
        """All of it."""
        return (
            f"{self.clock:.1f} s, {self.processor:.1f} s of processor time ({self.after:.1f} s in the parent after the "
            f"last part), peak {self.peak_mb:,.0f} MB, load {os.getloadavg()[0]:.1f}"
        )


def used() -> tuple[float, float]:
    """Processor time [s] and peak memory [MB] of this process so far."""
    usage = resource.getrusage(resource.RUSAGE_SELF)
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024.0


def timed(source: Path, work: Path, client: Client | None = None) -> tuple[Spent, pyarrow.Table]:
    """Count once and give what it took and the patterns; the peak is the largest of all processes."""
    before, began = spent(client), time.perf_counter()
    last = [0.0]

    def told(_: str, done: int, among: int) -> None:
        """Note when the last part was done."""
        if done == among:
            last[0] = used()[0]

    counted = count_orders(source, work, scheduler=client and client.scheduler.address, progress=told)
    clock, after = time.perf_counter() - began, spent(client)
    processor = sum(time for time, _ in after) - sum(time for time, _ in before)
    return Spent(clock, processor, used()[0] - last[0], max(memory for _, memory in after)), counted


def spent(client: Client | None) -> list[tuple[float, float]]:
    """What this process and all workers have used."""
    return [used(), *(client.run(used).values() if client else ())]


def one_machine(source: Path, work: Path) -> None:
    """Count in this process, and print time, patterns and the process' peak memory."""
    took, counted = timed(source, work)
    orders = sum(counted["count"].to_pylist())
    print(
        f"one machine: {orders:,} orders, {len(counted):,} patterns, {took}, {orders / took.clock:,.0f} orders/s",
        flush=True,
    )


def on_workers(source: Path, folder: Path, wanted: pyarrow.Table, rounds: int) -> None:
    """Count on one and on two workers in turn, and hold the numbers against the one-machine result."""
    clocks: dict[int, list[float]] = {1: [], 2: []}
    orders = sum(wanted["count"].to_pylist())
    for number in range(rounds):
        for workers in (1, 2) if number % 2 == 0 else (2, 1):
            with (
                LocalCluster(
                    n_workers=workers,
                    threads_per_worker=1,
                    host="127.0.0.1",
                    dashboard_address=":0",
                    silence_logs=logging.CRITICAL,
                ) as cluster,
                Client(cluster) as client,
            ):
                took, counted = timed(source, folder / f"work-{number}-{workers}", client)
            columns = zip(counted.columns, wanted.columns, strict=True)
            same = len(counted) == len(wanted) and all(
                np.array_equal(a.to_pandas().astype(object).fillna(""), b.to_pandas().astype(object).fillna(""))
                for a, b in columns
            )
            clocks[workers].append(took.clock)
            print(
                f"{workers} Dask workers: {took}, {orders / took.clock:,.0f} orders/s, equal to one machine: {same}",
                flush=True,
            )
    one, two = (float(np.median(clocks[workers])) for workers in (1, 2))
    print(f"medians of {rounds}: one worker {one:.1f} s, two {two:.1f} s, ratio {one / two:.2f}", flush=True)


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
    parser.add_argument("--rounds", type=int, default=3)
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
    on_workers(source, folder, count_orders(source, folder / "work"), options.rounds)


if __name__ == "__main__":
    main()
