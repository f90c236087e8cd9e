"""Leaving out what hardly weighs: what is kept, and what that changes, against the whole problem."""

import numpy as np
import pytest
from problems import drawn
from shipped_models import few, small_model

from advisor import advise
from advisor.decision import lookahead
from advisor.decision.narrowing import LIGHT, Narrowed, heaviest, narrowed
from advisor.decision.orders import order_cost
from advisor.decision.outlook import Outlook

HAND_OVER_PRICE = 250.0


def skewed(seed):
    """A problem of 57 hypotheses with a belief of which most weighs next to nothing."""
    problem = drawn(seed, causes=10, tests=5, repairs=5, hand_over=HAND_OVER_PRICE)
    weights = problem.belief**4
    return Outlook.of(problem), problem.stage, weights / weights.sum()


@pytest.mark.parametrize("seed", range(10))
def test_what_is_kept_is_closed_and_heavy(seed):
    """No repair leads out, what is left out weighs at most its share, and nothing heavier than what is kept for it."""
    outlook, _, weights = skewed(seed)
    near, repairs = narrowed(outlook, weights), outlook.problem.repairs
    kept, light = set(near.kept.tolist()), np.setdiff1d(np.arange(len(weights)), near.kept)
    assert len(light)
    assert weights[light].sum() <= LIGHT
    assert weights[light].max() <= weights[heaviest(weights)].min()
    for target in (repairs.after, repairs.otherwise):
        assert set(target[:, near.kept].ravel().tolist()) <= kept


@pytest.mark.parametrize("seed", range(10))
def test_each_step_costs_what_it_does_with_all(seed):
    """A step, and the order of repairs behind it, cost the same within what the light ones can cost at all."""
    outlook, stage, weights = skewed(seed)
    near = narrowed(outlook, weights)
    steps, most = outlook.all_steps(stage), LIGHT * 2.0 * HAND_OVER_PRICE
    few_paid = near.outlook.paid(steps, stage, weights[near.kept])
    assert few_paid == pytest.approx(outlook.paid(steps, stage, weights), abs=most)
    for step in steps:
        joint, then = near.outlook.after(step, weights[near.kept], stage)
        whole, _ = outlook.after(step, weights, stage)
        for some, every in zip(joint.T, whole.T, strict=True):
            found = near.outlook.repairing(then, some)
            cost = order_cost(outlook.problem, then, every, found.of(0))
            assert float(found.cost[0]) == pytest.approx(cost, abs=most)


@pytest.mark.parametrize("circuit", few("narrowed"))
def test_on_a_shipped_circuit(circuit, monkeypatch):
    """With all hypotheses, several times as many, the best next step costs the same within a twentieth."""
    model = small_model(circuit)
    complaints = [{"circuit": circuit, "findings": [{"symptom": name}]} for name in model.schematic.symptoms]
    near = [advise(model, complaint).expected_cost.after_next for complaint in complaints]
    monkeypatch.setattr(lookahead, "narrowed", lambda outlook, weights: Narrowed(outlook, np.arange(len(weights))))
    whole = [advise(model, complaint).expected_cost.after_next for complaint in complaints]
    assert near == pytest.approx(whole, rel=0.05)
