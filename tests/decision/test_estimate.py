"""What the customer authorised, and the range that is asked for."""

import numpy as np
import pytest
from oracles_decision import ways
from problems import drawn
from shipped_models import small_model

from advisor.decision.advice import Costs
from advisor.decision.advise import decide
from advisor.decision.estimate import Allowed, endings, estimate
from advisor.decision.outlook import HAND_OVER, Outlook, Step
from advisor.decision.plan import TestStep, repair_step, repairs_in_turn
from advisor.network.findings import DeclinedFinding, SymptomFinding

COMPLAINT = [SymptomFinding("lamp-stays-dark")]
SMALL = {"causes": 3, "tests": 3, "repairs": 2}


@pytest.fixture(scope="module")
def model():
    """The belt reminder, small."""
    return small_model("belt-reminder")


def then_repairs(outlook, problem, step):
    """A step, then repairs without tests, as a plan."""
    joint, then = outlook.after(step, problem.belief, problem.stage)
    rest = [repairs_in_turn(problem, outlook.repairing(then, own).of(0)) for own in joint.T]
    return TestStep(step.index, tuple(rest)) if step.kind == "test" else repair_step(problem, step.index, rest[0])


@pytest.mark.parametrize("step", [Step("test", 0), Step("test", 2), Step("repair", 1)])
@pytest.mark.parametrize("seed", range(6))
def test_endings_are_all_ways_of_the_plan(seed, step):
    """Weights and costs are those of the plan followed by one vehicle, one outcome and one proof at a time."""
    problem = drawn(seed, **SMALL)
    outlook = Outlook.of(problem)
    found = np.array(list(endings(outlook, problem.stage, problem.belief, step)))
    slow = [(chance, end["cost"]) for chance, end in ways(problem, then_repairs(outlook, problem, step))]
    costs = np.array(slow)
    assert found[:, 0].sum() == pytest.approx(1.0, abs=1e-9)
    assert found[:, 0] @ found[:, 1] == pytest.approx(costs[:, 0] @ costs[:, 1], rel=1e-9)
    for limit in np.quantile(costs[:, 1], [0.1, 0.5, 0.9]) + 1e-6:
        below = [table[table[:, 1] <= limit, 0].sum() for table in (found, costs)]
        assert below[0] == pytest.approx(below[1], abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_the_range_is_in_order(seed):
    """Low, expected and high stand in this order, and nine cases of ten keep to the high end."""
    problem = drawn(seed, **SMALL)
    outlook, step = Outlook.of(problem), Step("test", 1)
    ends = np.array(list(endings(outlook, problem.stage, problem.belief, step)))
    found = estimate(outlook, problem.stage, problem.belief, step, float(ends[:, 0] @ ends[:, 1]))
    assert found.low <= found.expected <= found.high
    assert ends[ends[:, 1] <= found.high, 0].sum() >= 0.9 - 1e-9
    assert estimate(outlook, problem.stage, problem.belief, HAND_OVER, 80.0).high == 80.0


@pytest.mark.parametrize("depth", [1, 2])
def test_what_exceeds_is_asked_for(model, depth):
    """A step that costs or takes more than is left is asked for, with its own price; one that fits is advised."""
    plain = decide(model, COMPLAINT, depth=depth)
    row = next(row for row in plain.tests if row.test == plain.next.id)
    for short in (Allowed(money=row.cost - 0.01), Allowed(minutes=row.minutes - 0.01), Allowed(0.0, 0.0)):
        asking = decide(model, COMPLAINT, depth=depth, allowed=short)
        assert (asking.next.kind, asking.next.id) == ("ask_customer", None)
        asked = asking.asked
        assert (asked.kind, asked.id) == (plain.next.kind, plain.next.id)
        assert (asked.cost, asked.minutes) == (row.cost, row.minutes)
        assert asked.estimate.low < asked.estimate.expected < asked.estimate.high
        assert asked.estimate.expected == asking.expected_cost_after_next
        assert asking.tests == plain.tests
    for enough in (Allowed(row.cost, row.minutes), Allowed(), None):
        fits = decide(model, COMPLAINT, depth=depth, allowed=enough)
        assert (fits.next, fits.asked) == (plain.next, None)


def test_repairs_and_handing_over_are_asked_for_too(model):
    """A repair is asked for at its price with parts, handing over at its own."""
    declined, dear = [*COMPLAINT, *(DeclinedFinding(test) for test in model.tests)], Costs(hand_over=800.0)
    plain = decide(model, declined, depth=1, costs=dear)
    asked = decide(model, declined, depth=1, costs=dear, allowed=Allowed(money=1.0)).asked
    first = next(row for row in plain.repairs if row.repair == plain.next.id)
    assert (asked.kind, asked.id, asked.cost, asked.minutes) == ("repair", first.repair, first.cost, first.minutes)
    cheap = decide(model, COMPLAINT, depth=1, costs=Costs(hand_over=2.0), allowed=Allowed(money=1.0)).asked
    assert (cheap.kind, cheap.cost) == ("hand_over", 2.0)
    assert (cheap.estimate.low, cheap.estimate.high) == pytest.approx((2.0, 2.0))
