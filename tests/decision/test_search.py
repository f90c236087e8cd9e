"""Bounds, searched plans and looking ahead against the optimum by full enumeration."""

from dataclasses import replace

import numpy as np
import pytest
from oracles_decision import optimum
from problems import drawn, plan_by_steps

from advisor.decision.bounds import KnownFault
from advisor.decision.lookahead import look_ahead
from advisor.decision.merging import cures_only
from advisor.decision.outlook import HAND_OVER, Outlook, Step
from advisor.decision.plan import HandOver, value_of
from advisor.decision.search import find_plan
from advisor.decision.stopping import TOGETHER, no_more_tests, same_decision, together, worth_of_knowing

SMALL = {"causes": 3, "tests": 3, "repairs": 2}
CLOSE = 1e-7


def test_two_hundred_small_problems():
    """Lower bound, optimum and plan stand in this order on 200 problems, a short search leaves a median gap of 10 %."""
    gaps = []
    for seed in range(200):
        problem = drawn(seed, **SMALL)
        best, known = optimum(problem), KnownFault(problem).bound(problem.stage, problem.belief)
        short, long = find_plan(problem, nodes=8), find_plan(problem, nodes=400)
        assert known <= best * (1.0 + CLOSE), seed
        for found in (short, long):
            assert found.lower <= best * (1.0 + CLOSE), seed
            assert best <= found.cost * (1.0 + CLOSE), seed
            assert value_of(problem, found.plan).cost == pytest.approx(found.cost, rel=1e-12)
        assert long.cost == pytest.approx(best, rel=1e-5), seed
        assert long.gap <= 1e-5, seed
        gaps.append(short.gap)
    print(f"gap after 8 beliefs: median {np.median(gaps):.3f}, worst {max(gaps):.3f} (seed {int(np.argmax(gaps))})")
    assert np.median(gaps) <= 0.10


def test_two_steps_ahead_against_the_optimum():
    """Choosing each step two ahead costs at most 2 % more than the optimum on average and 10 % at worst."""
    ratios = {}
    for hand_over in (250.0, 800.0, 2000.0):
        for seed in range(8):
            problem = drawn(seed, causes=5, tests=3, repairs=3, hand_over=hand_over)
            value = value_of(problem, plan_by_steps(problem))
            assert value.fixed + value.handed_over <= 1.0 + 1e-9
            ratios[hand_over, seed] = value.cost / optimum(problem)
    found = np.array(list(ratios.values()))
    worst = max(ratios, key=ratios.__getitem__)
    print(f"two steps ahead: mean {found.mean():.4f}, worst {found.max():.4f} (hand-over, seed {worst})")
    assert found.min() >= 1.0 - CLOSE
    assert found.mean() <= 1.02
    assert found.max() <= 1.10


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_two_steps_ahead_at_full_size(seed):
    """With 57 hypotheses, 5 tests and 6 repairs the same holds against the searched lower bound."""
    problem = drawn(seed, causes=10, tests=5, repairs=5, hand_over=250.0)
    best = find_plan(problem, nodes=600, gap=0.005)
    cost = value_of(problem, plan_by_steps(problem)).cost
    assert best.gap <= 0.05
    assert cost <= 1.10 * best.cost
    assert cost >= best.lower


@pytest.mark.parametrize("seed", range(20))
def test_looking_ahead_bounds_the_optimum(seed):
    """One step costs no less than two, two no less than the optimum, and no more than repairing without tests."""
    problem = drawn(seed, **SMALL)
    ahead = look_ahead(Outlook.of(problem), problem.stage, problem.belief)
    assert optimum(problem) <= ahead.best.cost * (1.0 + CLOSE)
    assert ahead.best.cost <= ahead.one[0].cost * (1.0 + CLOSE)
    assert ahead.best.cost <= ahead.now
    assert len(ahead.one) == len(problem.tests.price) + len(problem.repairs.price)


@pytest.mark.parametrize("seed", range(10))
def test_twins_are_valued_one_step_ahead_only(seed):
    """A twin has its worth, but is neither looked behind nor done second: the others cost what they cost without it."""
    problem = replace(drawn(seed, **SMALL), twins=frozenset({2}))
    ahead = look_ahead(Outlook.of(problem), problem.stage, problem.belief)
    done = look_ahead(Outlook.of(problem), replace(problem.stage, tests=frozenset({2})), problem.belief)
    assert Step("test", 2) in [choice.step for choice in ahead.one]
    assert [choice.step for choice in ahead.two] == [choice.step for choice in done.two]
    assert [c.cost for c in ahead.two] == pytest.approx([c.cost for c in done.two], rel=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_cures_only_keep_the_cost_of_repairs(seed):
    """Hypotheses that differ only in what they read are one for repairs, and cost the same."""
    problem = drawn(seed)
    small = cures_only(problem)
    bare = replace(problem, tests=without(problem))
    assert optimum(small.problem) == pytest.approx(optimum(bare), rel=1e-9)


def without(problem):
    """No tests at all."""
    tests = problem.tests
    none = np.zeros(0)
    return replace(
        tests, likelihood=tests.likelihood[:, :0], outcomes=(), price=none, minutes=none, place=none.astype(int)
    )


@pytest.mark.parametrize("seed", range(20))
def test_no_more_tests_is_true_where_it_is_said(seed):
    """Where no test can pay, the optimum with tests is that without; knowing the fault saves no less than any plan."""
    problem = drawn(seed, **SMALL)
    dear = replace(problem, tests=replace(problem.tests, price=problem.tests.price + 40.0 * (seed % 3)))
    outlook = Outlook.of(dear)
    repairing = outlook.repairing(dear.stage, dear.belief)
    cost, knowing = float(repairing.cost[0]), worth_of_knowing(outlook, dear.stage, dear.belief, repairing)
    assert optimum(dear) >= cost - knowing - CLOSE
    if no_more_tests(outlook, dear.stage, knowing):
        assert optimum(dear) == pytest.approx(optimum(replace(dear, tests=without(dear))), rel=1e-9)
        assert optimum(dear) <= cost * (1.0 + CLOSE)


@pytest.mark.parametrize("seed", range(10))
def test_same_decision_against_one_outcome_at_a_time(seed):
    """The probability is that of the joint outcomes after which the first repair is the one of now."""
    problem = drawn(seed, **SMALL)
    outlook = Outlook.of(problem)
    repairing = outlook.repairing(problem.stage, problem.belief)
    now, same = repairing.first()[0], 0.0
    for first in problem.split(problem.belief, 0).T:
        for both in problem.split(first, 1).T:
            same += both.sum() if outlook.repairing(problem.stage, both).first()[0] == now else 0.0
    found = [same_decision(outlook, problem.stage, problem.belief, tests, repairing) for tests in ((0, 1), ())]
    assert found == pytest.approx([same, 1.0], abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_as_many_tests_together_as_can_be_judged(seed):
    """The best tests are taken as long as their joint outcomes are few, and not one more."""
    problem = drawn(seed, tests=9)
    outcomes = np.array(problem.tests.outcomes)
    best = list(np.random.default_rng(seed).permutation(len(outcomes)))
    taken = together(Outlook.of(problem), best)
    assert list(taken) == best[: len(taken)]
    assert outcomes[list(taken)].prod() <= TOGETHER
    assert len(taken) == len(best) or outcomes[best[: len(taken) + 1]].prod() > TOGETHER
    assert together(Outlook.of(problem), best * 20) == taken  # more outcomes than a whole number can count


def test_hand_over_at_once():
    """Where handing over costs less than any step, every plan is to hand over."""
    problem = drawn(1, hand_over=2.0)
    assert find_plan(problem).plan == HandOver()
    assert look_ahead(Outlook.of(problem), problem.stage, problem.belief).best.step == HAND_OVER
