"""First steps followed to the end, against the optimum by full enumeration and on a shipped circuit."""

from dataclasses import dataclass

import pytest
from oracles_decision import optimum
from problems import drawn, plan_by_steps

import advisor
from advisor.decision.advise import decide
from advisor.decision.deeper import deepened, followed
from advisor.decision.lookahead import look_ahead
from advisor.decision.outlook import Outlook
from advisor.decision.plan import TestStep, value_of
from advisor.network.findings import SymptomFinding

SMALL = {"causes": 3, "tests": 3, "repairs": 2}
ENOUGH = 500
CLOSE = 1e-7


@dataclass
class Chooses:
    """Chooses two steps ahead, whatever it is."""

    outlook: Outlook

    def step(self, stage, belief):
        """Give the cheapest step."""
        return look_ahead(self.outlook, stage, belief).best.step


def looked(problem, beliefs):
    """What following finds, beside two steps ahead."""
    outlook = Outlook.of(problem)
    ahead = look_ahead(outlook, problem.stage, problem.belief)
    return ahead, deepened(Chooses(outlook), problem.stage, problem.belief, ahead, beliefs)


@pytest.mark.parametrize("seed", range(30))
def test_between_the_bounds(seed):
    """Lower bound, optimum, cost followed and cost two steps ahead stand in this order; more beliefs narrow it."""
    problem = drawn(seed, **SMALL)
    best = optimum(problem)
    ahead, few = looked(problem, 5)
    _, many = looked(problem, ENOUGH)
    assert few.lower <= best * (1.0 + CLOSE)
    assert few.lower <= many.lower * (1.0 + CLOSE)
    assert best <= many.ahead.best.cost * (1.0 + CLOSE)
    assert many.ahead.best.cost <= ahead.best.cost * (1.0 + CLOSE)


@pytest.mark.parametrize("seed", range(15))
def test_followed_to_the_end_is_the_plan(seed):
    """With beliefs enough, a followed first step costs what the whole plan behind it does, valued branch by branch."""
    problem = drawn(seed, **SMALL)
    outlook, plan = Outlook.of(problem), plan_by_steps(problem)
    if isinstance(plan, TestStep):
        step = look_ahead(outlook, problem.stage, problem.belief).best.step
        cost = followed(Chooses(outlook), step, problem.stage, problem.belief, ENOUGH)
        assert cost == pytest.approx(value_of(problem, plan).cost, rel=1e-9)
    none = followed(Chooses(outlook), outlook.all_steps(problem.stage)[0], problem.stage, problem.belief, 0)
    assert none >= optimum(problem) * (1.0 - CLOSE)


def test_deeper_on_a_shipped_circuit():
    """Followed to the end, the advice is expected to cost less, and its lower bound is closer."""
    model, complaint = advisor.load("belt-reminder"), [SymptomFinding("lamp-stays-dark")]
    two, three = decide(model, complaint), decide(model, complaint, depth=3)
    assert three.expected_cost_after_next < 0.95 * two.expected_cost_after_next
    assert three.least_cost > 1.01 * two.least_cost
    assert 0.0 < three.gap < two.gap
    keys = [(-worth.worth, worth.test) for worth in three.tests]
    assert keys == sorted(keys)
