"""Slips learned from confirmed orders, against the model with another slip and against planted ones."""

import json
from dataclasses import replace

import numpy as np
import pytest
from repair_shops import Habits, Repairshop
from scipy import stats

import advisor
from advisor.knowledge.predicted import SAME_AGAIN
from advisor.refit.counted import Shelf
from advisor.refit.order import Order
from advisor.refit.slips import PSEUDO, _learned, slipped, slips

CIRCUIT = "fuel-gauge"


@pytest.fixture(scope="module")
def model():
    """A circuit of the demo."""
    return advisor.load(CIRCUIT)


def test_the_mixture_is_the_models_own(model):
    """P(outcome | cause) with another slip, computed by the model anew, is what the slip's chance foretells."""
    weigher, other = Shelf.of({CIRCUIT: model}).weighers[CIRCUIT], 0.11
    single = np.flatnonzero(model.worlds.sizes == 1)
    done = 0
    for test in list(model.tests.values())[::9]:
        tool = model.instrument(test)
        predicted = model.predicted[test.id]
        if not predicted.slips or not predicted.lasting or test.id in model.battery_tests:
            continue
        again = replace(predicted, tool=replace(tool, slip=other), lasting=SAME_AGAIN * other, mirrored=None)
        plain = replace(predicted, mirrored=None)
        for outcome in test.outcomes[:2]:
            before, after = (p.outcome(outcome.id, model.axis, 0.0).shows[single] for p in (plain, again))
            shared = plain.outcome(outcome.id, model.axis, 0.0).shared
            read = shared.lasting * shared.stray + (1.0 - shared.lasting) * shared.slipped
            chance = read / before
            foretold = (1 - other) / (1 - tool.slip) * (1 - chance) + other / tool.slip * chance
            assert after / before == pytest.approx(foretold, rel=1e-6)
            done += 1
    assert done > 5
    symptom = model.worlds.symptoms[0]
    cause = model.compiled.causes[int(np.argmax(Repairshop(model).chance(0)))]
    test = next(t for t in model.tests.values() if model.predicted[t.id].lasting and t.id not in model.battery_tests)
    finding = [{"kind": "outcome", "test": test.id, "outcome": test.outcomes[0].id}]
    (told,) = slipped(weigher, Order(symptom, json.dumps(finding)), cause)
    assert told[0] == test.id and 0.0 < told[1] <= 1.0


def test_without_findings_that_tell_the_library_stands():
    """Chances at the model's own rate leave its beta variable as it was; sure ones count as slips."""
    rate = 0.04
    same = _learned("meter", np.column_stack([np.full(2, rate), np.full(2, rate), [40.0, 60.0]]))
    ends = stats.beta.ppf([0.05, 0.5, 0.95], PSEUDO * rate, PSEUDO * (1 - rate))
    assert (same.low, same.middle, same.high) == pytest.approx(ends, rel=0.03)
    counted = _learned("meter", np.column_stack([np.full(2, rate), [1.0, 0.0], [30.0, 170.0]]))
    ends = stats.beta.ppf([0.05, 0.5, 0.95], PSEUDO * rate + 30, PSEUDO * (1 - rate) + 170)
    assert (counted.low, counted.middle, counted.high) == pytest.approx(ends, rel=0.03)


def test_planted_slips_are_found(model):
    """Orders with the library's slips are held to be so; where one finding in five is anything at all, more is said."""
    shop, rng = Repairshop(model, {}, Habits(tests=2)), np.random.default_rng(12)
    table, shelf = shop.orders(700, rng), Shelf.of({CIRCUIT: model})
    usual = {found.instrument: found for found in slips(table, shelf)}
    name, most = max(usual.items(), key=lambda item: item[1].findings)
    assert most.findings > 150
    assert most.low / 1.5 <= most.model <= most.high * 1.5

    def spoil(text):
        """One finding in five says anything."""
        told = json.loads(text)
        for finding in told:
            if rng.random() < 0.2:
                finding["outcome"] = str(rng.choice([o.id for o in model.tests[finding["test"]].outcomes]))
        return json.dumps(told)

    spoiled = {found.instrument: found for found in slips(table.assign(findings=table["findings"].map(spoil)), shelf)}
    assert spoiled[name].low > most.middle
    assert spoiled[name].low > most.model
