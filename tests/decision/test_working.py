"""Minutes of a release: all work at twice the minutes is all work at twice the wage; each kind of work by itself."""

import numpy as np
import pytest

import advisor
from advisor.contract.plan_answer import present_plan
from advisor.decision.advice import Costs
from advisor.decision.bench import Bench, groundwork
from advisor.decision.case import case_of
from advisor.decision.complaint import complaint_of
from advisor.decision.conditional import plan_for
from advisor.decision.plan import value_of
from advisor.decision.repairs import VERIFY_MINUTES, repair_plans
from advisor.decision.working import ACCESS, PROVING, work_of_repair, work_of_test
from advisor.knowledge.learned import Learned

CIRCUIT = "fuel-gauge"


@pytest.fixture(scope="module")
def model():
    """A circuit with places inside of others."""
    return advisor.load(CIRCUIT)


def every_work(model, factor):
    """All kinds of work of a circuit, alike."""
    tests = {work_of_test(test) for test in model.tests.values()}
    repairs = {work_of_repair(model.wiring, plan) for plan in repair_plans(model.wiring)}
    return Learned(dict.fromkeys([*tests, *repairs, ACCESS, PROVING], factor))


def problem(model, costs):
    """A complaint of it as a problem to be decided."""
    bench = Bench(model, frozenset(), costs, model.worlds)
    return case_of(bench, (model.worlds.symptoms[0],), tuple(range(len(model.compiled.tests)))).outlook.problem


def test_twice_the_minutes_cost_what_twice_the_wage_does(model):
    """Prices of tests, access and repairs, now and after a place stands open; explaining alone is nobody's work."""
    slow = model.with_priors("slow", {}, every_work(model, 2.0))
    one, two = problem(slow, Costs(60.0)), problem(model, Costs(120.0))
    assert one.tests.price == pytest.approx(two.tests.price)
    assert one.access.price == pytest.approx(two.access.price)
    assert one.repairs.price[:-1] == pytest.approx(two.repairs.price[:-1])
    assert one.repairs.price[-1] == pytest.approx(two.repairs.price[-1] / 2.0)
    benches = [Bench(m, frozenset(), c, m.worlds) for m, c in ((slow, Costs(60.0)), (model, Costs(120.0)))]
    places = frozenset(list(model.schematic.places)[:2])
    for opened in (frozenset(), places):
        assert benches[0].prices(opened)[:-1] == pytest.approx(benches[1].prices(opened)[:-1])
    for test in list(model.tests.values())[::20]:
        assert benches[0].test_minutes(test) == pytest.approx(2.0 * benches[1].test_minutes(test))
    for plan in groundwork(slow).plans:
        usual = next(each for each in groundwork(model).plans if each.id == plan.id)
        assert benches[0].repair_minutes(plan, places) == pytest.approx(2.0 * benches[1].repair_minutes(usual, places))


def test_each_kind_of_work_moves_what_it_is_about(model):
    """One kind at a time: nothing but its own tests, repairs or openings becomes dearer, by its own minutes."""
    usual, tests = problem(model, Costs()), model.compiled.tests
    for name, kind in (("meter", "test: voltmeter"), ("open", ACCESS), ("proof", PROVING), ("wire", "repair: wire")):
        other = problem(model.with_priors(name, {}, Learned({kind: 3.0})), Costs())
        gained = [
            each.minutes - before.minutes
            for each, before in zip(
                (other.tests, other.access, other.repairs), (usual.tests, usual.access, usual.repairs), strict=True
            )
        ]
        mine = [2.0 * test.minutes * (work_of_test(test) == kind) for test in tests]
        assert gained[0] == pytest.approx(np.array(mine))
        assert gained[1] == pytest.approx(2.0 * usual.access.minutes * (kind == ACCESS))
        own = [2.0 * plan.minutes * (work_of_repair(model.wiring, plan) == kind) for plan in repair_plans(model.wiring)]
        assert gained[2][:-1] == pytest.approx(np.array(own) + 2.0 * VERIFY_MINUTES * (kind == PROVING))
        assert any(gain.any() for gain in gained), kind


def test_plans_take_the_minutes_of_a_release():
    """A plan at half the minutes is cheaper, its steps tell those, and a model under a release is kept with them."""
    table = advisor.load("engine-runs-hot")
    symptom = table.worlds.symptoms[0]
    quick = table.with_priors("quick", {}, every_work(table, 0.5))
    cost = {}
    for model in (table, quick):
        complaint = complaint_of(model, symptom)
        plan = plan_for(complaint)
        cost[model.priors] = value_of(complaint.problem, plan).cost
        told = [step for step in present_plan(complaint, symptom, plan).steps if step.kind == "test"]
        times = 0.5 if model is quick else 1.0
        assert told and all(step.minutes == times * table.tests[step.test].minutes for step in told)
    assert cost["quick"] < cost["handbook-1"]
    assert table.with_priors("quick", {}, every_work(table, 0.5)) is quick
    assert quick.with_priors("worked", {}).learned == quick.learned
    with pytest.raises(ValueError, match="minutes"):
        Learned({ACCESS: 0.0})
