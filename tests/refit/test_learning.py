"""A whole refit on invented orders of a small table, from patterns to a candidate, its page and its command."""

import csv
import json
from datetime import UTC, datetime

import numpy as np
import pytest
from click.testing import CliRunner
from repair_shops import Habits, Repairshop
from scipy import stats

import advisor
from advisor.cli import main
from advisor.cli.refit_page import as_html
from advisor.contract.order_rows import COLUMNS
from advisor.contract.priors import priors_of
from advisor.errors import UsageError
from advisor.refit.candidate import Made, candidate, digest, work
from advisor.refit.exposure import absolute, read_exposure
from advisor.refit.learning import Learning
from advisor.refit.minutes import Took
from advisor.refit.report import Report
from advisor.refit.slips import Slip
from advisor.refit.statements import Trust

TABLE = "engine-runs-hot"


@pytest.fixture(scope="module")
def model():
    """A table: few hypotheses, no circuit to solve."""
    return advisor.load(TABLE)


@pytest.fixture(scope="module")
def planted(model):
    """Factors of the invented shop."""
    rng = np.random.default_rng(21)
    return {cause: float(np.exp(0.7 * rng.standard_normal())) for cause in model.compiled.causes}


@pytest.fixture(scope="module")
def patterns(model, planted):
    """Its orders."""
    habits = Habits(verified=0.7, innocent=0.4, followed=90)
    return Repairshop(model, planted, habits).orders(900, np.random.default_rng(5))


@pytest.fixture(scope="module")
def learned(model, patterns):
    """What a refit makes of them."""
    return Learning({TABLE: model}, seed=4, depth=1).learn(patterns)


@pytest.fixture(scope="module")
def report(model, patterns, learned):
    """All that is told of it."""
    made = Made("refit-2025-12", datetime(2026, 1, 2, tzinfo=UTC), 4)
    told = candidate(learned, patterns, {TABLE: model}, made)
    slipped = (Slip("voltmeter", 0.04, 0.05, 0.031, 0.072, 300, 15.5),)
    minutes = (Took("repair: lamp", 1.25, 1.1, 1.4, 40),)
    trusted = (
        Trust(TABLE, "fan-never-runs", "yes", 44, 0, 1.0, 0.913, 0.842, 0.957, from_handbook=False),
        Trust(TABLE, "fan-never-runs", "no", 3, 0, 0.999, 0.95, 0.86, 0.997, from_handbook=True),
    )
    whole = told | work(slipped, minutes, trusted)
    titles = {TABLE: model.schematic.title}
    return Report(learned, patterns, made, titles, whole, 910, {"duplicate": 10}, slipped, minutes, trusted)


def test_planted_rates_are_found(model, planted, learned):
    """Later orders are predicted better; frequent causes lie inside their intervals, up to a common scale."""
    assert learned.verdict == "better"
    assert learned.evaluation.gain("loss").low > 0.0
    rates = learned.rates[TABLE]
    true = np.array([planted[cause] for cause in model.compiled.causes])
    often = rates.events >= 20.0
    assert often.sum() >= 5
    scale = np.exp(np.average(np.log(true / rates.known.middle)[often], weights=rates.events[often]))
    inside = (rates.known.low * scale <= true) & (true <= rates.known.high * scale)
    assert inside[often].mean() >= 0.7
    assert np.corrcoef(np.log(rates.factors[often]), np.log(true[often]))[0, 1] > 0.6


def test_the_total_stays(model, learned):
    """Without exposure the sum of all rates is the handbook's."""
    rate = np.bincount(model.worlds.severity_cause, model.prevalence(advisor.knowledge.prevalence.Vehicle()))
    assert learned.rates[TABLE].factors @ rate == pytest.approx(rate.sum())


def test_equal_seeds_give_equal_candidates(model, patterns, learned, report):
    """The same orders in another sequence, learned again, give the same file."""
    mixed = patterns.sample(frac=1.0, random_state=1).reset_index(drop=True)
    again = Learning({TABLE: model}, seed=4, depth=1).learn(mixed)
    told = candidate(again, mixed, {TABLE: model}, report.made)
    assert told == {name: report.candidate[name] for name in told}
    assert digest(mixed) == digest(patterns)
    assert digest(mixed.assign(count=mixed["count"] + 1)) != digest(patterns)


def test_the_candidate_is_a_release(model, report):
    """The file is read by the contract, and its factors make the model that the refit had in mind."""
    text = json.dumps(report.candidate, allow_nan=False)
    release = priors_of(json.loads(text))
    factors = release.rates.factors[TABLE]
    assert set(factors) == set(model.compiled.causes)
    assert model.with_priors("refit", factors).priors == "refit"
    rows = report.candidate["factors"][TABLE].values()
    assert all(row["low"] <= row["factor"] <= row["high"] for row in rows)
    assert {row["from"] for row in rows} <= {"orders", "handbook"}


def test_a_base_is_built_upon(model, patterns, planted):
    """Begun from the planted rates, a refit leaves them nearly alone and gives factors on the library's rates."""
    begun = model.with_priors("planted", planted)
    found = Learning({TABLE: begun}, seed=4, depth=1).learn(patterns)
    told = candidate(found, patterns, {TABLE: begun}, Made("next", datetime(2026, 1, 2, tzinfo=UTC), 4, base="planted"))
    assert found.evaluation.gain("loss").high < 0.1
    factors = {cause: row["factor"] for cause, row in told["factors"][TABLE].items()}
    gap = [np.log(factors[c] / planted[c]) for c in factors]
    assert np.std(gap) < 0.4


def test_few_orders_say_that_they_are_few(model):
    """Twenty orders give a verdict of too few, and rates next to the handbook's."""
    found = Learning({TABLE: model}, depth=1).learn(Repairshop(model).orders(20, np.random.default_rng(3)))
    assert found.verdict == "too few orders"
    assert found.evaluation is None
    assert np.abs(np.log(found.fit.factors)).max() < 0.3


def test_the_page_holds_all_that_is_told(report):
    """The page is one file, names every part, and its numbers can be taken along."""
    page = as_html(report)
    assert report.sentence.split(".")[0] in page
    for heading in ("What came in", "Rates that moved most", "Proof on orders", "Change between", "All rates before"):
        assert heading in page
    assert page.count("<svg") == 3 and page.count("<title>") == 4
    assert "data:text/csv;base64," in page and "<script" not in page
    assert "src=" not in page and "http://www.w3.org/2000/svg" in page
    assert report.movers[0].cause in page
    assert "3.1 to 7.2 %" in page and "1.10 to 1.40" in page
    assert report.candidate["minutes"]["repair: lamp"] == {"factor": 1.25, "low": 1.1, "high": 1.4, "orders": 40}
    assert "84.2 to 95.7 %" in page and page.count("too few</td>") == 1
    first, second = report.candidate["statements"]
    assert (first["from"], first["middle"], first["orders"], second["from"]) == ("orders", 0.913, 44, "handbook")


def test_vehicles_in_service_make_rates_of_ratios(learned, patterns):
    """Rates of causes add up to the orders about listed faults; a group's is its orders over its vehicle-years."""
    found = absolute(learned, {"": 3000.0, "fleet": 500.0})
    ends = stats.gamma.ppf([0.05, 0.95], 900.5) / 3.0
    assert (found.groups[""].rate, found.groups[""].orders) == (300.0, patterns["count"].sum())
    assert (found.groups[""].low, found.groups[""].high) == pytest.approx(ends)
    assert found.groups["fleet"].rate == 0.0
    causes = found.causes[TABLE]
    assert all(rate.low <= rate.rate <= rate.high for rate in causes.values())
    often = max(causes.values(), key=lambda rate: rate.orders)
    assert often.rate == pytest.approx(1000.0 * often.orders / 3500.0)
    assert sum(rate.orders for rate in causes.values()) < patterns["count"].sum()
    with pytest.raises(UsageError, match="''"):
        absolute(learned, {"fleet": 500.0})
    for text in ("group,years\n", "vehicle_group,vehicle_years\nbox,0\n", "vehicle_group,vehicle_years\na,1\na,2\n"):
        with pytest.raises(UsageError):
            read_exposure(text)


def test_the_command_writes_candidate_and_page(tmp_path, model):
    """From a CSV of orders to both files; the text says the verdict."""
    rows = Repairshop(model, {}, Habits(tests=1)).orders(60, np.random.default_rng(8))
    file, out = tmp_path / "orders.csv", tmp_path / "out"
    with file.open("w", newline="", encoding="utf-8") as target:
        writer = csv.DictWriter(target, list(COLUMNS), restval="")
        writer.writeheader()
        for number, row in enumerate(rows.to_dict("records")):
            told = {name: row[name] for name in ("circuit", "symptom", "findings", "causes", "cause_status")}
            for copy in range(row["count"]):
                writer.writerow(
                    told | {"reference": f"A-{number}-{copy}", "closed_at": f"{row['period']}-01T0{copy % 10}:00:00Z"}
                )
    years = tmp_path / "years.csv"
    years.write_text("vehicle_group,vehicle_years\n,400\n")
    words = ["refit", str(file), "--depth", "1", "--out", str(out), "--exposure", str(years)]
    found = CliRunner().invoke(main, words)
    assert found.exit_code == 0, found.output
    assert "Verdict: too few orders" in found.output
    told = json.loads((out / "candidate.json").read_text())
    assert (told["verdict"], told["exposure"]["groups"][""]["rate"]) == ("too few orders", 150.0)
    assert told["slips"] == {}  # a table has no instruments that slip
    assert "Fewer than 30" in (out / "report.html").read_text()
