"""What an order tells: the network's own likelihoods, and the traps that a refit must not fall into."""

import json

import numpy as np
import pandas as pd
import pytest
from oracles_refit import likelihood, row, vehicle_of
from repair_shops import Habits, Repairshop, folded

import advisor
from advisor.decision.bench import groundwork
from advisor.decision.complaint import complaint_of
from advisor.decision.conditional import Limits
from advisor.decision.plan import value_of
from advisor.errors import RequestError
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import posterior
from advisor.network.findings import OutcomeFinding, SymptomFinding
from advisor.network.worlds import SPECIALS
from advisor.refit.afterwards import comes_back
from advisor.refit.counted import Shelf, counted
from advisor.refit.fitting import shared
from advisor.refit.order import Order
from advisor.refit.predicting import cause_chances, log_chances
from advisor.refit.replaying import near, valued
from advisor.refit.weights import Weigher

CIRCUIT, SYMPTOM = "fuel-gauge", "reads-empty"


@pytest.fixture(scope="module")
def model():
    """A circuit of the demo."""
    return advisor.load(CIRCUIT)


@pytest.fixture(scope="module")
def weigher(model):
    """Weighs its orders."""
    return Weigher(model)


def told(model, *tests):
    """Findings of some tests, each in its second outcome, as an order writes them."""
    listed = [{"kind": "outcome", "test": t, "outcome": model.tests[t].outcomes[1].id} for t in tests]
    return json.dumps(listed, sort_keys=True, separators=(",", ":"))


def some_tests(model, count=2):
    """Tests that a shop does on this complaint."""
    pool = Repairshop(model).pools[model.worlds.symptoms.index(SYMPTOM)]
    return [model.worlds.tests[t] for t in pool[:count]]


def test_chances_of_causes_are_the_engines_under_a_release(model):
    """A fit's chances at some factors are those of advice under a release of them, but for the second order."""
    rng, tests = np.random.default_rng(3), some_tests(model)
    factors = {cause: float(np.exp(0.7 * rng.standard_normal())) for cause in model.compiled.causes}
    shop = Repairshop(model).orders(30, rng).iloc[:1]
    table = shop.assign(symptom=SYMPTOM, findings=told(model, *tests), repairs="", causes="", cause_status="unknown")
    shelf = Shelf.of({CIRCUIT: model})
    coordinates = shelf.coordinates(table)
    theirs = counted(table, shelf, coordinates).counted
    at = np.ones(len(coordinates.all))
    at[coordinates.of_causes(CIRCUIT)[:, coordinates.block == 0].indices] = list(factors.values())
    found = cause_chances(theirs, at, shelf).toarray()[0]
    released = model.with_priors("planted", factors)
    root = released.prior(Vehicle())
    findings = [SymptomFinding(SYMPTOM), *(OutcomeFinding(t, model.tests[t].outcomes[1].id) for t in tests)]
    belief = posterior(released.worlds, root, released.evidence(findings, root), released.axis.prior)
    expected = released.worlds.with_cause(belief.weights)
    assert found == pytest.approx(expected, abs=4e-3)
    assert found.max() > 0.05


def any_finding(test, model, rng):
    """Some answer to a test as an order writes it: an outcome, a reading, or that it was declined."""
    unit = model.tests[test].unit
    if rng.random() < 0.05:
        return {"kind": "declined", "test": test}
    minute = {"minute": float(rng.integers(60))} if rng.random() < 0.1 else {}
    if unit in ("V", "A") and rng.random() < 0.4:
        return {"kind": "reading", "test": test, "value": round(float(rng.uniform(0, 13)), 1), "unit": unit} | minute
    outcome = str(rng.choice([o.id for o in model.tests[test].outcomes]))
    return {"kind": "outcome", "test": test, "outcome": outcome} | minute


def any_order(model, rng):
    """Some order: tests of all kinds, several at one plug, symptoms, repairs after them and among them."""
    symptoms = list(model.worlds.symptoms)
    symptom = str(rng.choice(symptoms))
    near = int(rng.integers(len(model.worlds.tests)))
    asked = {*rng.integers(near, near + 4, 2), *rng.integers(len(model.worlds.tests), size=int(rng.integers(1, 3)))}
    asked |= {model.positions[t] for t in model.battery_tests} if rng.random() < 0.15 else set()
    told = [any_finding(model.worlds.tests[t % len(model.worlds.tests)], model, rng) for t in sorted(asked)]
    told = list({finding["test"]: finding for finding in told}.values())
    if rng.random() < 0.3:
        told.insert(0, {"kind": "symptom", "symptom": symptom, "comes_and_goes": bool(rng.random() < 0.5)})
    if rng.random() < 0.3:
        other = str(rng.choice([s for s in symptoms if s != symptom]))
        told.append({"kind": "symptom", "symptom": other, "present": bool(rng.random() < 0.5)})
    plans = rng.choice([plan.id for plan in groundwork(model).plans], int(rng.integers(3)), replace=False)
    repairs = [f"{plan} {rng.choice(['stays', 'gone', 'back', ''])}".strip() for plan in plans]
    if repairs and rng.random() < 0.3:
        told += [any_finding(told[0]["test"], model, rng)] if "test" in told[0] else []
    back = str(rng.choice(["", "yes", "no"])) if repairs else ""
    return Order(symptom, json.dumps(told), "; ".join(repairs), back, float(rng.choice([0, 30, 90])))


@pytest.mark.parametrize(("circuit", "count"), [(CIRCUIT, 24), ("engine-runs-hot", 40)])
def test_lists_weighed_by_what_they_share_are_the_engines(circuit, count):
    """Of orders of all kinds, the likelihood put together from kept parts is that of the engine, path by path."""
    model, rng = advisor.load(circuit), np.random.default_rng(17)
    weigher, kinds = Weigher(model), set()
    for _ in range(count):
        order = any_order(model, rng)
        expected = likelihood(model, order)
        assert weigher.likelihood(order) == pytest.approx(expected, rel=1e-9, abs=1e-12 * expected.max())
        kinds |= {(type(finding).__name__) for finding in weigher.read(order)}
    assert kinds >= {"SymptomFinding", "OutcomeFinding", "RepairFinding"}


def test_patterns_weighed_together_are_those_of_a_slow_twin(model):
    """Rows of terms, by vehicle and complaint, are sums over hypotheses; what is left out is negligible."""
    table = Repairshop(model, {}, Habits(verified=0.5, innocent=0.4, followed=90)).orders(14, np.random.default_rng(4))
    table = table.assign(
        years=np.resize([1.5, np.nan, 11.0], len(table)), hours=np.resize([np.nan, 5000.0], len(table))
    )
    shelf = Shelf.of({CIRCUIT: model})
    found = counted(table, shelf, shelf.coordinates(table)).counted
    for place, pattern in table.iterrows():
        sure = pattern["cause_status"] == "confirmed"
        after = ("", "", 0.0) if sure else (pattern["repairs"], pattern["came_back"], pattern["followed_days"])
        order = Order(pattern["symptom"], pattern["findings"], *after)
        expected, special = row(model, order, vehicle_of(pattern), pattern["causes"] if sure else "")
        own = found.share[[place]].toarray()[0]
        assert own.sum() == pytest.approx(expected.sum(), rel=2e-4)
        assert own[own > 0.0] == pytest.approx(expected[own > 0.0], rel=1e-9)
        assert found.special[place] == pytest.approx(special)


def read_kinds(weigher, symptom, findings, repairs, **more):
    """What is read of an order: its tests and repairs in turn."""
    order = Order(symptom, json.dumps(findings), repairs, **more)
    return [getattr(f, "test", getattr(f, "repair", None)) for f in weigher.read(order)[1:]]


def test_a_test_answered_again_follows_a_repair(model, weigher):
    """Findings after a repair are read as such, whether the order says so or a test is answered again."""
    tests, plan = some_tests(model), groundwork(model).plans[0].id
    one, two = ({"test": t, "outcome": model.tests[t].outcomes[0].id} for t in tests)
    other = {"test": tests[0], "outcome": model.tests[tests[0]].outcomes[1].id}
    told = read_kinds(weigher, SYMPTOM, [one, two, other], f"{plan} stays")
    assert told == [tests[0], tests[1], plan, tests[0]]
    said = [one, {"repair": plan, "result": "stays"}, two]
    assert read_kinds(weigher, SYMPTOM, said, f"{plan} stays") == [tests[0], plan, tests[1]]
    assert read_kinds(weigher, SYMPTOM, said, f"{plan} stays", first=True) == [tests[0]]
    assert read_kinds(weigher, SYMPTOM, [one, two, other], "", first=True) == tests
    assert read_kinds(weigher, SYMPTOM, [one, two], f"{plan} stays") == [*tests, plan]
    with pytest.raises(RequestError, match="answered already"):
        weigher.read(Order(SYMPTOM, json.dumps([one, other])))


def test_a_replaced_part_alone_tells_nothing(model, weigher):
    """A part that was replaced because of what was found adds no likelihood; that the complaint stays or goes does."""
    findings, ground = told(model, *some_tests(model)), groundwork(model)
    repair = next(plan for plan in ground.plans if plan.restores)
    plain = weigher.likelihood(Order(SYMPTOM, findings))
    assert weigher.likelihood(Order(SYMPTOM, findings, repair.id)) == pytest.approx(plain, rel=1e-9)
    gone = weigher.likelihood(Order(SYMPTOM, findings, f"{repair.id} gone"))
    stays = weigher.likelihood(Order(SYMPTOM, findings, f"{repair.id} stays"))
    mine = weigher.confirmed(sorted(repair.restores)[0]) & (model.worlds.sizes == 1) & (plain > 0.0)
    shows = mine & (model.worlds.presence[:, model.worlds.symptoms.index(SYMPTOM)] > 0.9)
    others = (model.worlds.sizes == 1) & ~mine & (model.worlds.presence[:, model.worlds.symptoms.index(SYMPTOM)] > 0.9)
    for cured in np.flatnonzero(shows):
        assert gone[cured] / plain[cured] > 5.0 * (gone[others] / plain[others]).min()
        assert stays[cured] / plain[cured] < (stays[others] / plain[others]).max()


def test_not_coming_back_is_no_proof(model, weigher):
    """Coming back speaks against what was replaced, staying away for it, and more so the longer it was followed."""
    shows = np.array([0.0, 1.0])
    for days in (30.0, 90.0, 365.0):
        back, away = comes_back(shows, "yes", days), comes_back(shows, "no", days)
        assert back + away == pytest.approx(np.ones(2))
        assert back[1] > 5.0 * back[0]
        assert 0.1 < away[1] < away[0] < 1.0
    assert comes_back(shows, "no", 0.0) == pytest.approx(np.ones(2))
    longer = [comes_back(shows, "no", d)[1] for d in (30.0, 90.0, 365.0)]
    assert longer == sorted(longer, reverse=True)
    repair = groundwork(model).plans[0]
    plain = weigher.likelihood(Order(SYMPTOM, "[]", repair.id))
    away = weigher.likelihood(Order(SYMPTOM, "[]", repair.id, "no", 90.0))
    assert not np.allclose(plain, away)
    assert weigher.likelihood(Order(SYMPTOM, "[]", "", "no", 90.0)) == pytest.approx(
        weigher.likelihood(Order(SYMPTOM, "[]"))
    )


def test_a_confirmed_cause_leaves_what_holds_it(model, weigher):
    """One cause, several, or a part whatever its mode; an unknown one is refused."""
    one, two = model.compiled.causes[0], model.compiled.causes[-1]
    holds = model.worlds.holds
    assert (weigher.confirmed(one) == holds[:, 0]).all()
    assert (weigher.confirmed(f"{one}; {two}") == (holds[:, 0] & holds[:, -1])).all()
    part = one.rpartition("/")[0]
    mine = [cause.rpartition("/")[0] == part for cause in model.compiled.causes]
    assert (weigher.confirmed(part) == holds[:, mine].any(axis=1)).all()
    with pytest.raises(RequestError):
        weigher.confirmed("nothing/at-all")


def test_orders_that_cannot_be_weighed_are_kept_with_a_reason(model):
    """What the circuit does not know, or what is no finding, is refused with its count; the rest goes on."""
    good = Repairshop(model).orders(5, np.random.default_rng(1))
    bad = [
        good.iloc[:1].assign(findings='[{"kind":"outcome","test":"none","outcome":"x"}]', count=3),
        good.iloc[:1].assign(findings='["what"]', count=2),
        good.iloc[:1].assign(causes="none/open", cause_status="confirmed", count=4),
        good.iloc[:1].assign(symptom="none", count=5),
    ]
    table = folded(pd.concat([good, *bad], ignore_index=True))
    shelf = Shelf.of({CIRCUIT: model})
    taken = counted(table, shelf, shelf.coordinates(table))
    assert sorted(r.count for r in taken.refused) == [2, 3, 4, 5]
    assert all(r.reason for r in taken.refused)
    assert taken.counted.count.sum() + 14 == table["count"].sum()


def test_chances_of_a_pattern_are_shares_of_its_complaint(model):
    """Over all outcomes of a test, the chances of an order's patterns sum to one, at any factors."""
    test = model.tests[some_tests(model, 1)[0]]
    rows = [json.dumps([{"kind": "outcome", "outcome": o.id, "test": test.id}]) for o in test.outcomes]
    first = Repairshop(model).orders(1, np.random.default_rng(1))
    table = pd.concat(
        [first.assign(symptom=SYMPTOM, findings=row, repairs="", causes="", cause_status="unknown") for row in rows]
    )
    shelf = Shelf.of({CIRCUIT: model})
    coordinates = shelf.coordinates(table)
    found = counted(table, shelf, coordinates).counted
    shares = model.intake.all.sum()
    for seed in range(3):
        factors = np.random.default_rng(seed).gamma(4.0, 0.25, len(coordinates.all))
        assert np.exp(log_chances(found, factors)).sum() * (1.0 - shares) == pytest.approx(1.0, abs=1e-3)


def test_no_factors_make_a_pattern_likelier_than_sure(model):
    """What a pattern has of a term is at most what its complaint leads to expect, so a fit has an upper bound.

    Rare causes that are confirmed are among those that are left out of what is expected where nobody has them.
    """
    shelf, worlds = Shelf.of({CIRCUIT: model}), model.worlds
    usual = Repairshop(model).orders(60, np.random.default_rng(6))
    rare = [worlds.causes[c] for c in np.argsort(model.worlds.with_cause(model.prior(Vehicle()).weights))[:20]]
    rows = [usual.iloc[:1].assign(symptom=SYMPTOM, findings="[]", causes=c, cause_status="confirmed") for c in rare]
    table = pd.concat([usual, *rows], ignore_index=True)
    coordinates = shelf.coordinates(table)
    every = counted(table, shelf, coordinates).counted
    assert len(every.count) > 60
    share, expected = every.share.toarray(), every.usual.toarray()[every.stratum]
    assert (share <= expected * (1.0 + 1e-9)).all()
    most = 1.0 / (1.0 - model.intake.all.sum()) + 1e-9  # in units of faults' share, nothing wrong and others beside
    for seed in range(4):
        at = np.exp(5.0 * np.random.default_rng(seed).standard_normal(len(coordinates.all)))
        found = shared(every, at)
        assert (found.total <= most * found.whole[every.stratum]).all()


def test_a_plan_valued_for_each_hypothesis_sums_to_its_value(model):
    """Weighted by the belief, cost and tests for each hypothesis are what the plan comes to."""
    complaint = complaint_of(model, SYMPTOM)
    plan = near(complaint, Limits(share=0.02, steps=8))
    found, value = valued(complaint.problem, plan), value_of(complaint.problem, plan)
    assert complaint.problem.belief @ found.cost == pytest.approx(value.cost)
    assert complaint.problem.belief @ found.tests == pytest.approx(value.tests)
    assert found.cost[SPECIALS:].std() > 1.0


def test_shops_draw_what_they_are_told_to(model):
    """Three tenths of listed causes are not confirmed, four tenths of all replaced parts were good."""
    shop = Repairshop(model, {model.compiled.causes[0]: 5.0}, Habits(verified=0.7, innocent=0.4, followed=90))
    table = shop.orders(1500, np.random.default_rng(2))
    assert table["count"].sum() == 1500
    status = table.groupby("cause_status")["count"].sum()
    listed = 1.0 - model.intake.all.sum()
    assert status["confirmed"] / 1500 == pytest.approx(0.7 * listed, abs=0.04)
    assert set(table["came_back"]) == {"", "yes", "no"}
    sure = table[table["cause_status"] == "confirmed"]
    good = int((sure["repairs"].str.count("stays") * sure["count"]).sum())
    rate = good / (good + int(sure["count"].sum()))
    assert rate == pytest.approx(shop.wrong_first, abs=0.04)
    unsure = 1500 - int(sure["count"].sum())
    special = 1500 * model.intake.all.sum()
    parts, wrong = good + 1500, good + special + shop.wrong_first * (unsure - special)
    assert wrong / parts == pytest.approx(0.4, abs=0.03)
