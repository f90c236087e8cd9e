"""Minutes of work shared out: a general optimiser finds the same, planted factors are found, odd totals do little."""

import json

import numpy as np
import pandas as pd
import pytest
from scipy import optimize

import advisor
from advisor.decision.access import access_minutes
from advisor.decision.bench import groundwork
from advisor.decision.repairs import VERIFY_MINUTES
from advisor.decision.working import work_of_repair
from advisor.refit.minutes import PSEUDO, factors, foreseen, learned, took

CIRCUIT = "fuel-gauge"


def work(rng, count, kinds=4):
    """Minutes that a model foresees of some kinds of work, each in three orders of five."""
    done = rng.random((count, kinds)) < 0.6
    done[:, 0] = True
    return np.where(done, rng.uniform(2.0, 25.0, (count, kinds)), 0.0)


def test_a_general_optimiser_finds_the_same():
    """Totals that are never far off: the factors are the highest point of a Poisson likelihood with gamma variables."""
    rng = np.random.default_rng(3)
    usual, true = work(rng, 60), np.array([0.8, 1.5, 1.1, 0.6])
    minutes = usual @ true * rng.uniform(0.8, 1.25, 60)
    weight = PSEUDO * usual.sum(axis=0) / (usual > 0.0).sum(axis=0)

    def loss(log):
        """Minus the logarithm of what is to be highest."""
        expected = usual @ np.exp(log)
        return -(minutes @ np.log(expected) - expected.sum() + weight @ (log - np.exp(log)))

    best = np.exp(optimize.minimize(loss, np.zeros(4), method="BFGS").x)
    found = factors(usual, minutes, np.ones(60), np.ones(4))
    assert factors(usual, minutes, np.ones(60), found) == pytest.approx(found, abs=1e-4)
    assert found == pytest.approx(best, rel=1e-3)


def test_planted_factors_are_found_in_spite_of_odd_totals():
    """Four hundred orders, one in twenty of them mistyped by a factor of ten, give nearly what was planted."""
    rng = np.random.default_rng(5)
    usual, true = work(rng, 400), np.array([0.7, 1.6, 1.0, 1.3])
    minutes = usual @ true * np.exp(rng.normal(-0.02, 0.2, 400)) * np.where(rng.random(400) < 0.05, 10.0, 1.0)
    found = learned(list("abcd"), usual, minutes, rng)
    assert [each.work for each in found] == list("abcd")
    for each, planted in zip(found, true, strict=True):
        assert each.low < each.factor < each.high
        assert each.factor == pytest.approx(planted, rel=0.2)
        assert each.orders == (usual[:, "abcd".index(each.work)] > 0.0).sum()
    assert learned(["a"], usual[:5, :1], minutes[:5], rng) == ()


def test_what_the_model_foresees_is_what_it_charges():
    """Tests by instrument, the repair by its part type, each place opened once, and the proof."""
    model = advisor.load(CIRCUIT)
    plan = next(plan for plan in groundwork(model).plans if len(plan.restores) > 0 and plan.place)
    first, second = [test for test in model.tests.values() if test.instrument == "voltmeter" and test.opens][:2]
    told = json.dumps([{"test": t.id, "outcome": t.outcomes[0].id} for t in (first, second)])
    found = foreseen(model, told, f"{plan.id} gone")
    assert found["test: voltmeter"] == first.minutes + second.minutes
    assert found[work_of_repair(model.wiring, plan)] == plan.minutes
    assert found["proving"] == VERIFY_MINUTES
    places = model.schematic.places
    apart = sum(access_minutes(places, place, frozenset()) for place in {first.place, second.place, plan.place})
    assert 0.0 < found.get("access", 0.0) <= apart
    once = foreseen(model, json.dumps([{"test": first.id, "outcome": first.outcomes[0].id}] * 2), "")
    assert once["access"] == access_minutes(places, first.place, frozenset())


def test_only_orders_that_say_so_count():
    """Orders without minutes, findings or a confirmed cause tell nothing of minutes."""
    model = advisor.load(CIRCUIT)
    plan, test = groundwork(model).plans[0], next(iter(model.tests.values()))
    row = {
        "circuit": CIRCUIT,
        "findings": json.dumps([{"test": test.id, "outcome": test.outcomes[0].id}]),
        "repairs": f"{plan.id} gone",
        "cause_status": "confirmed",
    }
    usual = sum(foreseen(model, row["findings"], row["repairs"]).values())
    good = pd.DataFrame([row | {"minutes": 1.5 * usual}] * 20)
    others = [good.assign(minutes=np.nan), good.assign(cause_status="believed"), good.assign(findings=None)]
    found = took(pd.concat([good, *others], ignore_index=True), {CIRCUIT: model}, 1)
    assert {each.orders for each in found} == {20}
    assert all(1.1 < each.factor < 1.5 for each in found)
    assert took(good.drop(columns="minutes"), {CIRCUIT: model}, 1) == ()
