"""No control unit is condemned before its feeds, grounds, inputs and loads are proved."""

from dataclasses import replace

import numpy as np
import pytest
from shipped_models import random_findings, small_model

from advisor.decision.advise import decide
from advisor.decision.complaint import complaint_of
from advisor.decision.conditional import Limits, plan_for
from advisor.decision.guard import PROVED, guard_of
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.plan import ExplainStep, RepairStep, TestStep
from advisor.knowledge.terminals import guarded, terminals
from advisor.knowledge.wiring import wire_up
from advisor.network.findings import DeclinedFinding, SymptomFinding

BELT = "belt-reminder"
# Read off the drawing by hand: what lies in series between each pin and its rail.
BEFORE_THE_UNIT = {"main-fuse", "feed-cable", "ignition-switch"}
WAYS = {
    "supply": ("feed", {"F8", "X6/1", "W101", "C12/1"} | BEFORE_THE_UNIT),
    "ground": ("ground", {"C12/4", "W102", "G2", "body-strap"}),
    "buckle": (
        "input",
        {"C12/7", "W103", "X31/1", "W104", "X33/1", "buckle-switch", "X33/2", "W105", "X31/2", "W106", "G4"}
        | {"body-strap"},
    ),
    "lamp": (
        "load",
        {"C12/9", "W109", "C20/11", "belt-lamp", "cluster", "C20/2", "W107", "X6/2", "F9"} | BEFORE_THE_UNIT,
    ),
}
STUCK = [SymptomFinding("lamp-never-goes-out"), SymptomFinding("lamp-stays-on")]


@pytest.fixture(scope="module")
def model():
    """The belt reminder, small."""
    return small_model(BELT)


def test_ways_are_those_of_the_drawing(model):
    """Each pin of the unit is proved by what lies in series between it and its rail."""
    found = {pin.pin: (pin.role, set(pin.items)) for pin in terminals(model.wiring, "belt-unit")}
    assert found == WAYS


def test_units_and_clusters_are_guarded(model):
    """A unit and a cluster are; a circuit without either, and a table, have nothing to guard."""
    assert set(guarded(model.wiring)) == {"belt-unit", "cluster"}
    assert guarded(small_model("blower").wiring) == ()
    assert guarded(small_model("engine-runs-hot").wiring) == ()


def test_what_has_a_second_way_is_not_in_series(model):
    """With a second ground wire from the unit's pin to the same point, neither wire alone has to be proved."""
    schematic = model.schematic
    second = replace(schematic.wires["W102"], id="W102-b")
    doubled = wire_up(replace(schematic, wires={**schematic.wires, "W102-b": second}))
    ground = next(pin for pin in terminals(doubled, "belt-unit") if pin.pin == "ground")
    assert ground.items == WAYS["ground"][1] - {"W102"}


def missing(model, belief, repair, left):
    """The same by loops: pins that are open before a repair, each with the tests that would prove it or halve it."""
    worlds, cause_part = model.worlds, [cause.part for cause in model.wiring.causes]
    part = repair.removeprefix("repair-")
    result = {}
    for pin in terminals(model.wiring, part) if part in guarded(model.wiring) else ():
        held = [{cause_part[c] for c in row if c >= 0} for row in worlds.members]
        alone = [part not in parts and bool(parts & pin.items) for parts in held]
        share = sum(b for b, is_alone in zip(belief, alone, strict=True) if is_alone)
        if share <= PROVED:
            continue
        result[pin.pin] = set()
        for test in left:
            columns = range(worlds.columns[test].start, worlds.columns[test].stop)
            bad = [sum(b * worlds.likelihood[h, c] for h, b in enumerate(belief) if part in held[h]) for c in columns]
            seen = worlds.likelihood[:, columns[int(np.argmax(bad))]] * belief
            if seen[np.array(alone)].sum() / seen.sum() <= max(PROVED, share / 2.0):
                result[pin.pin].add(test)
    return result


@pytest.mark.parametrize("seed", [3, 16, 23])
def test_what_is_missing_by_loops(model, seed):
    """Open pins and the tests that prove them are those of the slow twin, one hypothesis at a time."""
    guard, rng = guard_of(model), np.random.default_rng(seed)
    belief = rng.dirichlet(np.full(len(model.worlds.members), 0.02))
    tests = sorted(rng.choice(len(model.worlds.tests), 12, replace=False).tolist())
    for repair in guard.held:
        name = next(f"repair-{pin.part}" for pin, own in zip(guard.pins, guard.repairs, strict=True) if repair in own)
        slow = missing(model, belief, name, tests)
        assert [guard.pins[i].pin for i in guard.open_pins(belief, repair)] == list(slow)
        assert guard.proving(model.worlds, belief, repair, tests) == sorted(set().union(*slow.values()))


@pytest.mark.parametrize("depth", [1, 2])
def test_a_test_before_the_unit(model, depth):
    """A lamp that never goes out is a stuck unit or its wire on ground: the wire is proved first."""
    advice = decide(model, STUCK, depth=depth)
    assert advice.next.kind == "test"
    assert "Replace belt reminder unit" in advice.next.reason
    assert advice.repairs[0].repair != "repair-belt-unit"
    assert ("belt-unit", "lamp", "load") in [(pin.part, pin.pin, pin.role) for pin in advice.not_proved]
    assert advice.expected_cost_now - advice.expected_cost_after_next == pytest.approx(
        next(row.worth for row in advice.tests if row.test == advice.next.id)
    )


def test_nothing_left_to_prove_it_with(model):
    """Where every test has been declined the repair may be named, and what is not proved stays in the answer."""
    advice = decide(model, [*STUCK, *(DeclinedFinding(test) for test in model.tests)], depth=1)
    assert (advice.next.kind, advice.next.id) == ("repair", "repair-belt-unit")
    assert [(pin.pin, pin.test) for pin in advice.not_proved if pin.part == "belt-unit"] == [("lamp", None)]


def test_never_too_early(model):
    """Over many cases the next step never replaces a unit that a test could prove more of, and it is never first."""
    held = 0
    for seed in range(80):
        advice = decide(model, random_findings(BELT, seed, 6), depth=1)
        open_parts = {pin.part for pin in advice.not_proved if pin.test is not None}
        units = {f"repair-{part}" for part in open_parts}
        held += bool(units)
        assert advice.next.id not in units, seed
        assert not advice.repairs or advice.repairs[0].repair not in units, seed
    assert held >= 20


def test_the_plan_obeys_too(model):
    """On no way of a compiled plan is a unit replaced while a safe test that is left could prove more of it."""
    complaint = complaint_of(model, "lamp-never-goes-out")
    plan = plan_for(complaint, Limits(share=0.005))
    replaced = list(condemned(complaint, plan, complaint.problem.stage, complaint.problem.belief))
    assert replaced  # the plan does come to a unit
    for stage, weights, repair in replaced:
        belief = weights / weights.sum()
        risky = complaint.bench.overload(belief) > HAZARD_SHARE
        left = [test for test in complaint.problem.tests_left(stage) if not risky[test]]
        assert not set().union(*missing(model, belief, repair, left).values())


def condemned(complaint, plan, stage, weights):
    """Every place of a plan at which a unit is replaced: stage, weights, repair."""
    problem = complaint.problem
    if not isinstance(plan, TestStep | RepairStep | ExplainStep) or not weights.sum() > 0.0:
        return
    if isinstance(plan, TestStep):
        then = problem.after_test(stage, plan.test)
        for branch, joint in zip(plan.branches, problem.split(weights, plan.test).T, strict=True):
            yield from condemned(complaint, branch, then, joint)
        return
    repair = plan.repair if isinstance(plan, RepairStep) else problem.explain
    name = complaint.bench.ground.plans[repair].id if isinstance(plan, RepairStep) else ""
    if name.removeprefix("repair-") in guarded(complaint.bench.model.wiring):
        yield stage, weights, name
    still = problem.repaired(weights, repair) * problem.still
    rest = plan.not_fixed if isinstance(plan, RepairStep) else plan.not_accepted
    yield from condemned(complaint, rest, problem.after_repair(stage, repair), still)
