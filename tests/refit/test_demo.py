"""Invented orders: the same by seed, drawn from the rates that they say, and rejected where they are meant to be."""

import csv
import io
import json
from collections import Counter
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from architecture.sources import ROOT
from refit.corrupted import damaged
from scipy import stats
from shipped_models import MODELS, small_model

from advisor.contract.nearest import unknown
from advisor.errors import UnknownModelError
from advisor.knowledge.prevalence import Vehicle
from advisor.refit.columns import ORDER_COLUMNS
from advisor.refit.demo import demo_orders
from advisor.refit.demo_faults import SPREAD, Circuit, known_factors
from advisor.refit.demo_mess import SHARE, WAYS, spoiled
from advisor.refit.reading import read_orders, rejects_csv

NOW = datetime(2026, 11, 1, tzinfo=UTC)
FEW = ("belt-reminder", "engine-runs-hot")
DEMO = ROOT / "datasets" / "demo-orders.csv"


def load(name):
    """Give a small model."""
    if name not in MODELS:
        raise UnknownModelError(unknown("circuit", name, MODELS))
    return small_model(name)


@cache
def few(seed=3, count=600):
    """Orders of two models."""
    return demo_orders({name: small_model(name) for name in FEW}, seed, count)


def test_a_seed_gives_the_same_orders_again():
    """Rows and truth are equal for a seed, byte for byte once spoiled, and others for another."""
    once, again = (demo_orders({name: small_model(name) for name in FEW}, 3, 200) for _ in range(2))
    assert once == again
    raw = [spoiled(demo.rows, np.random.default_rng(5)).raw for demo in (once, again)]
    assert raw[0] == raw[1]
    assert demo_orders({name: small_model(name) for name in FEW}, 4, 200).rows != once.rows
    assert all(tuple(row) == ORDER_COLUMNS for row in once.rows)


def test_orders_that_were_not_spoiled_are_all_accepted(tmp_path):
    """No good row is rejected beside the bad ones, and every planted row is for the reason that it was planted for."""
    messy = spoiled(few().rows, np.random.default_rng(5), 0.08)
    path = tmp_path / "orders.csv"
    path.write_bytes(messy.raw)
    read = read_orders(path, load, NOW)
    told = {}
    for reason in read.reasons:
        told.setdefault(reason.line, set()).add(reason.name)
    assert set(told) == set(messy.planted)
    assert {line: name for line, name in messy.planted.items() if name not in told[line]} == {}
    assert {*messy.planted.values()} == set(WAYS)
    assert len(read.accepted) + len(messy.planted) == read.rows == len(few().rows) + read.counts["duplicate-order"]


def test_faults_come_as_often_as_the_truth_says():
    """Hypotheses drawn for a complaint follow the prior with factors times the complaint, by a chi-square test."""
    model, rng = small_model("reversing-lamps"), np.random.default_rng(8)
    factors = known_factors({"reversing-lamps": model}, rng)["reversing-lamps"]
    complaint = Circuit(model, factors).complaints(9.0)[0]
    from advisor.refit.demo import _order
    from advisor.refit.demo_fleet import visits

    (visit,) = visits(1, rng)
    drawn = np.array([_order(visit, complaint, rng).hypothesis for _ in range(20_000)])
    root = model.with_priors("x", factors).prior(Vehicle(9.0, 9.0 * 860.0)).weights
    expected = root * model.with_priors("x", factors).complaint(
        model.with_priors("x", factors).prior(Vehicle(9.0, 9.0 * 860.0)), 0
    )
    expected = expected / expected.sum() * len(drawn)
    often = expected > 10
    seen = np.append(np.bincount(drawn, minlength=len(expected))[often], np.isin(drawn, np.flatnonzero(~often)).sum())
    wanted = np.append(expected[often], expected[~often].sum())
    assert stats.chisquare(seen, wanted).pvalue > 1e-3
    usual = model.prior(Vehicle(9.0, 9.0 * 860.0))
    handbook = usual.weights * model.complaint(usual, 0)
    plain = np.append(handbook[often], handbook[~often].sum()) * len(drawn) / handbook.sum()
    assert stats.chisquare(seen, plain).pvalue < 1e-6  # the handbook's rates did not make these


@cache
def shipped():
    """The shipped demo as it was read, and its truth."""
    truth = json.loads(DEMO.with_name("demo-orders-truth.json").read_text(encoding="utf-8"))
    return read_orders(DEMO, load, NOW), truth


def test_the_shipped_demo_is_what_its_card_says():
    """5,000 orders; each planted row is rejected for its reason and no other row is."""
    read, truth = shipped()
    planted = {int(line): name for line, name in truth["planted"].items()}
    assert set(planted) == {reason.line for reason in read.reasons}
    told = {(reason.line, reason.name) for reason in read.reasons}
    assert [(line, name) for line, name in planted.items() if (line, name) not in told] == []
    assert (truth["invented"], truth["orders"], len(planted)) == (True, 5000, round(5000 * SHARE))
    assert len(read.accepted) + read.rejected == read.rows
    assert set(read.accepted["circuit"]) == set(truth["factors"]) <= set(MODELS)
    assert set(read.accepted["source"]) == {"demo"}


def test_the_demo_is_as_messy_as_it_says():
    """Shares of unverified causes and of innocent parts, and the spread of the factors, lie where chance puts them."""
    read, truth = shipped()
    orders = read.accepted[read.accepted["reference"].map(lambda r: "/" in truth["wrong"][r])]
    wrong = orders["reference"].map(truth["wrong"])
    unverified = orders["cause_status"] != "confirmed"
    assert stats.binomtest(int(unverified.sum()), len(orders), 0.3).pvalue > 1e-3
    named = orders[unverified & (orders["cause_status"] == "believed")]
    innocent = (named["causes"] != wrong[named.index]).sum()
    assert stats.binomtest(int(innocent), len(named), 0.4).pvalue > 1e-3
    sure = orders[~unverified]
    assert (sure["causes"] == wrong[sure.index]).all()
    factors = {cause: factor for of in truth["factors"].values() for cause, factor in of.items()}
    logs = np.log(list(factors.values()))
    assert abs(logs.std() - SPREAD) < 4 * SPREAD / np.sqrt(2 * len(logs))
    assert abs(logs.mean()) < 4 * SPREAD / np.sqrt(len(logs))
    assert all(factors[cause] == factor for of in truth["factors"].values() for cause, factor in of.items())


def test_innocent_parts_bring_vehicles_back():
    """Where a part was fitted that was good, followed vehicles come back far more often than elsewhere."""
    read, truth = shipped()
    orders = read.accepted[(read.accepted["came_back"].notna()) & (read.accepted["cause_status"] == "believed")]
    innocent = orders["causes"] != orders["reference"].map(truth["wrong"])
    back = orders["came_back"] == "true"
    listed = orders["reference"].map(lambda reference: "/" in truth["wrong"][reference])
    assert back[innocent & listed].mean() > 0.8
    assert back[~innocent & listed].mean() < 0.06


SEEDS = 30
"""Of 100 damaged files that `bench.bench_orders --damaged` reads."""


@pytest.mark.parametrize("seed", range(SEEDS))
def test_a_damaged_file_is_answered_with_addresses(tmp_path, seed):
    """Rows add up, each rejected row has its reasons with line and cell, and every other one is accepted."""
    check_damaged(tmp_path, seed)


def check_damaged(folder: Path, seed: int) -> str:
    """Read one damaged file, and hold what was said against a count of its lines that knows nothing of CSV."""
    whole = spoiled(few().rows[seed % 50 * 10 : seed % 50 * 10 + 40], np.random.default_rng(seed), 0.0).raw
    file = damaged(whole, seed)
    path = folder / "damaged.csv"
    path.write_bytes(file.raw)
    read = read_orders(path, load, NOW)
    lines = file.raw.count(b"\r\n")
    assert len(read.accepted) + read.rejected == read.rows, file.how
    assert file.rows is None or read.rows == file.rows, file.how
    bad = {reason.line for reason in read.reasons} - {1}
    assert len(bad) == read.rejected and not bad & set(read.accepted.index), file.how
    assert all(1 <= r.line <= lines + 1 and 0 <= r.cell <= 40 and r.name and r.detail for r in read.reasons), file.how
    kept = list(csv.reader(io.StringIO(rejects_csv(read), newline="")))
    assert Counter(int(row[0]) for row in kept[1:]) == Counter(bad) and all(row[1] for row in kept[1:]), file.how
    # What was accepted stands there, letter by letter: nothing was repaired or moved to another column.
    told = {row[1]: row for row in csv.reader(io.StringIO(whole.decode(), newline=""))}
    for row in read.accepted.to_dict("records"):
        if row["reference"] not in told:
            # A letter of a reference that nobody can know, or a quote in its middle, which is text.
            assert "bytes_flipped" in file.how or '"' in row["reference"], file.how
            continue
        source = dict(zip(ORDER_COLUMNS, told[row["reference"]], strict=True))
        assert (row["circuit"], row["symptom"], row["odometer_km"]) == (
            *(source["circuit"], source["symptom"], float(source["odometer_km"])),
        ), file.how
    return file.how
