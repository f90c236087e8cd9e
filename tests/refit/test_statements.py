"""Trust in statements: closed forms, a slow twin, planted rates, coverage, and what must say nothing."""

import json

import numpy as np
import pandas as pd
import pytest
from oracles_refit import likelihood, wrong_statements
from repair_shops import Habits, Repairshop
from scipy import stats

import advisor
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import SPECIALS
from advisor.refit.counted import Shelf
from advisor.refit.grids import GRID, ends
from advisor.refit.order import Order
from advisor.refit.spoken import Reader, stated
from advisor.refit.statements import _COARSE, LEAST_ORDERS, MEAN, PSEUDO, Said, _complaint, _others, errors, trusts

TABLE, CIRCUIT = "engine-runs-hot", "fuel-gauge"
A, B = PSEUDO * MEAN, PSEUDO * (1.0 - MEAN)


@pytest.fixture(scope="module")
def circuit():
    """A circuit with looks at its complaints."""
    return advisor.load(CIRCUIT)


@pytest.fixture(scope="module")
def table():
    """A table whose causes show several symptoms each."""
    return advisor.load(TABLE)


def beta(wrong, right):
    """Ends of a 90 % interval and the median of a chance, by scipy's beta variable, chances above one half left out."""
    found = stats.beta(A + wrong, B + right)
    return found.ppf(np.array([0.05, 0.5, 0.95]) * found.cdf(0.5))


def test_with_complete_data_a_chance_is_a_beta_variable():
    """Causes that show a symptom surely or never, complaints that a look would surely find: the closed form."""
    said = [Said(1.0, True, 80.0), Said(1.0, False, 12.0), Said(0.0, True, 5.0), Said(0.0, False, 45.0)]
    yes, no = _others("c", "s", said, 0.01)
    for found, wrong, right in ((yes, 12, 80), (no, 5, 45)):
        assert (1 - found.high, 1 - found.middle, 1 - found.low) == pytest.approx(beta(wrong, right), rel=0.03)
        assert (found.orders, found.from_handbook) == (wrong + right, False)
    assert (yes.model, no.model) == (1.0, 0.99)
    seen = _complaint("c", "s", [Said(1.0, True, 90.0), Said(1.0, False, 10.0)], 7.0)
    assert (1 - seen.high, 1 - seen.middle, 1 - seen.low) == pytest.approx(beta(10, 90), rel=0.01)
    assert (seen.orders, seen.apart) == (100, 7)


def test_few_statements_leave_it_to_the_handbook():
    """Below the least number, or where the cause does not tell, nothing is said."""
    few = _complaint("c", "s", [Said(1.0, True, LEAST_ORDERS - 1.0)], 0.0)
    assert few.from_handbook and few.source == "handbook"
    assert not _complaint("c", "s", [Said(1.0, True, 40.0)], 0.0).from_handbook
    lost = _complaint("c", "s", [Said(1e-6, False, 400.0)], 0.0)
    assert lost.from_handbook and lost.orders == 400
    yes, no = _others("c", "s", [Said(0.0, False, 40.0)], 0.0)
    assert (yes.from_handbook, no.from_handbook) == (True, False)


@pytest.mark.parametrize("seed", range(2))
def test_a_slow_twin_finds_the_same(seed):
    """Statements on what shows half of the time, among others, one after another on an even grid."""
    rng = np.random.default_rng(seed)
    said = [Said(float(p), bool(rng.random() < p), float(rng.integers(1, 9))) for p in rng.uniform(0.0, 1.0, 25)]
    log = errors(np.array(said))
    for axis, twin in zip((1, 0), wrong_statements(said, A, B), strict=True):
        assert ends(_COARSE, np.logaddexp.reduce(log, axis=axis)) == pytest.approx(twin, rel=0.02, abs=1.5e-3)


def test_intervals_hold_the_truth_as_often_as_they_say():
    """Sixty shops with rates from what is believed beforehand: pooled coverage within two standard errors by shop."""
    held = []
    for shop in range(60):
        rng = np.random.default_rng([4, shop])
        f, d = (stats.beta.ppf(rng.uniform(0.0, stats.beta.cdf(0.5, A, B), 2), A, B)).tolist()
        chance = rng.choice([0.0, 0.02, 0.4, 0.9, 1.0], 120)
        yes = rng.random(120) < (1.0 - f - d) * chance + f
        found = _others(
            "c", "s", [Said(p, bool(y), 1.0) for p, y in zip(chance.tolist(), yes.tolist(), strict=True)], 0.0
        )
        held.append([each.low <= 1.0 - wrong <= each.high for each, wrong in zip(found, (d, f), strict=True)])
    by_shop = np.mean(held, axis=1)
    assert abs(by_shop.mean() - 0.9) <= 2.0 * by_shop.std(ddof=1) / np.sqrt(len(by_shop))


def test_planted_statements_are_found(table):
    """Orders of customers who say yes or no whatever is the case: both rates, symptom by symptom; others hold truth."""
    shelf = Shelf.of({TABLE: table})
    found = {}
    for f, d in ((0.0, 0.0), (0.08, 0.25)):
        shop = Repairshop(table, {}, Habits(asked=3, says_yes=f, says_no=d))
        found[f] = trusts(shop.orders(2500, np.random.default_rng(3)), shelf)
        wrong = {"yes": d, "no": f}
        told = [each for each in found[f] if not each.from_handbook]
        assert {each.what for each in told} == {"yes", "no"} and len(told) >= 7
        inside = [each.low - 0.005 <= 1.0 - wrong[each.what] <= each.high + 0.005 for each in told]
        assert np.mean(inside) >= 0.75
    pairs = [(a, b) for a, b in zip(found[0.0], found[0.08], strict=True) if not b.from_handbook]
    assert all(a.middle > b.middle for a, b in pairs)


def test_complaints_that_are_not_found_are_told_from_faults_that_hide(circuit):
    """One look in five sees something else: found; faults that hide from all looks take nothing from the complaint."""
    shelf, wanted = Shelf.of({CIRCUIT: circuit}), "falls-with-pump"
    most = {}
    for otherwise in (0.0, 0.2):
        shop = Repairshop(circuit, {}, Habits(hides=True, looked=1.0, otherwise=otherwise))
        told = trusts(shop.orders(1600, np.random.default_rng(8)), shelf)
        most[otherwise] = next(each for each in told if each.symptom == wanted)
        assert most[otherwise].what == "complaint" and most[otherwise].apart > 50
    assert most[0.0].low > 0.97
    seen = most[0.2]
    assert abs(seen.middle - 0.8) < 3.0 * (seen.high - seen.low) / 3.29 < 0.06  # three standard deviations
    assert seen.orders > 500


def test_what_a_cause_leads_to_expect_is_the_engines(circuit):
    """P(complaint as told | cause, tests) and P(another symptom | the same), by the engine hypothesis by hypothesis."""
    shop = Repairshop(circuit, {}, Habits(hides=True, looked=1.0, asked=2))
    rows = shop.orders(40, np.random.default_rng(2))
    reader, worlds = Reader(Shelf.of({CIRCUIT: circuit}).weighers[CIRCUIT]), circuit.worlds
    root, checked = circuit.prior(Vehicle()), 0
    for row in rows[rows["cause_status"] == "confirmed"].itertuples():
        found = reader.case(row.symptom, row.findings, row.causes)
        watched, sent = stated(circuit, row.symptom), json.loads(row.findings)
        rest = [each for each in sent if each["kind"] == "outcome" and each["test"] not in watched]
        look = next(({**each, "outcome": watched[each["test"]]} for each in sent if each.get("test") in watched), None)
        if look is None:
            continue
        before = root.weights * circuit.complaint(root, worlds.symptoms.index(row.symptom))
        causes = {worlds.causes.index(cause) for cause in row.causes.split("; ")}
        held = [h for h in range(SPECIALS, len(before)) if causes <= set(worlds.members[h].tolist())]
        both, alone = (
            before[held] * likelihood(circuit, Order(row.symptom, json.dumps(each), first=True))[held]
            for each in ([*rest, look], rest)
        )
        assert found.seen[0] == pytest.approx(both.sum() / alone.sum(), rel=1e-6)
        for symptom, chance, yes in found.told():
            shows = worlds.presence[held, worlds.symptoms.index(symptom)]
            assert chance == pytest.approx(alone @ shows / alone.sum(), rel=1e-6, abs=1e-12)
            assert yes == next(each["present"] for each in sent if each.get("symptom") == symptom)
        checked += 1
    assert checked > 10


def test_complaints_alone_and_causes_that_are_not_sure_say_nothing(circuit):
    """The complaint's own statement, believed causes and what follows a repair are no evidence on statements."""
    shop = Repairshop(circuit, {}, Habits(looked=1.0, asked=2))
    rows, shelf = shop.orders(60, np.random.default_rng(1)), Shelf.of({CIRCUIT: circuit})
    complaints = [json.dumps([{"kind": "symptom", "symptom": s, "present": True}]) for s in rows["symptom"]]
    assert trusts(rows, shelf)
    assert trusts(rows.assign(findings=complaints), shelf) == ()
    assert trusts(rows.assign(cause_status="believed"), shelf) == ()
    repair = {"kind": "repair", "repair": rows["repairs"].iloc[0].split(" ")[0], "result": "stays"}
    later = [json.dumps([repair, *json.loads(text)]) for text in rows["findings"]]
    assert all(each.orders == 0 for each in trusts(pd.DataFrame(rows.assign(findings=later)), shelf))


def test_the_grid_holds_what_is_believed():
    """Without a statement the ends are those of the beta variable."""
    found = _complaint("c", "s", [], 3.0)
    assert (1 - found.high, 1 - found.middle, 1 - found.low) == pytest.approx(beta(0, 0), rel=0.03)
    assert (found.orders, found.apart, found.from_handbook) == (0, 3, True)
    assert GRID[0] < 1e-4 < GRID[-1] == pytest.approx(0.5)
