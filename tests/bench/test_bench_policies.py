"""The policy bench does what it says: accounts add up, vehicles are paired, and figures agree with exact sums."""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from bench.agreement import agreement
from bench.bench_policies import Compared, compared, difference, report
from bench.policies_known import next_step, policies
from bench.policy_walk import Chooser, Described, draw, lead
from bench.sharper import SharpOutlook
from bench.small_instances import cut, most_valued, ratio_of
from bench.static_tree import static_tree
from oracles_decision import optimum, places_to
from problems import drawn, plan_by_steps
from shipped_models import small_model

from advisor.decision.advise import decide
from advisor.decision.complaint import complaint_of
from advisor.decision.conditional import Limits
from advisor.decision.outlook import Outlook
from advisor.decision.plan import GiveUp, TestStep, value_of
from advisor.decision.search import find_plan
from advisor.network.findings import OutcomeFinding, SymptomFinding

COMPLAINTS = (("belt-reminder", "lamp-stays-dark"), ("reversing-lamps", "left-dark"), ("blower", "only-full-works"))
VEHICLES = 60
DEEP = 0.06
"""Histories of at least this share of all vehicles are looked at two steps ahead here: few, so that it is quick."""


@cache
def complaint(circuit, symptom):
    """A complaint of a small model."""
    return complaint_of(small_model(circuit), symptom)


@cache
def every(circuit, symptom):
    """Its policies."""
    return policies(complaint(circuit, symptom), symptom, DEEP, Limits(share=DEEP))


class Watched(Described):
    """Vehicles that keep a journal of what was done to each, with outcomes."""

    def __init__(self, problem, vehicles):
        super().__init__(problem, vehicles)
        self.journal = [[] for _ in range(self.count)]

    def outcomes(self, rows, test):
        """Note each outcome."""
        shown = super().outcomes(rows, test)
        for row, outcome in zip(rows, shown, strict=True):
            self.journal[row].append(("test", test, int(outcome)))
        return shown

    def repaired(self, rows, repair):
        """Note each repair and whether the complaint was gone."""
        done = super().repaired(rows, repair)
        for row, passed in zip(rows, done.passed, strict=True):
            self.journal[row].append(("repair", repair, bool(passed)))
        return done


@cache
def watched(circuit, symptom):
    """What the same vehicles came to under each policy, with their journals."""
    problem = complaint(circuit, symptom).problem
    vehicles = draw(problem, VEHICLES, np.random.default_rng(7))
    found = {}
    for name, policy in every(circuit, symptom).items():
        world = Watched(problem, vehicles)
        found[name] = lead(problem, policy, world), world
    return found


@pytest.mark.parametrize(("circuit", "symptom"), COMPLAINTS)
def test_every_journal_comes_to_its_cost(circuit, symptom):
    """Cost, minutes and tests of each vehicle are those of its journal, added up step by step with what it opens."""
    problem = complaint(circuit, symptom).problem
    for name, (came, world) in watched(circuit, symptom).items():
        for row, journal in enumerate(world.journal):
            opened, cost, minutes = set(), 0.0, 0.0
            for kind, index, _ in journal:
                work = problem.tests if kind == "test" else problem.repairs
                new = places_to(problem, work.place[index]) - opened
                cost += work.price[index] + sum(problem.access.price[p] for p in new)
                minutes += work.minutes[index] + sum(problem.access.minutes[p] for p in new)
                opened |= new
            gone = bool(journal) and journal[-1][0] == "repair" and journal[-1][2]
            assert came.values["handed_over"][row] == (not gone), name
            assert came.values["fixed"][row] == gone, name
            assert came.values["cost"][row] == pytest.approx(cost + (0.0 if gone else problem.hand_over)), name
            assert came.values["minutes"][row] == pytest.approx(minutes), name
            assert came.values["tests"][row] == sum(kind == "test" for kind, *_ in journal), name


@pytest.mark.parametrize(("circuit", "symptom"), COMPLAINTS)
def test_nothing_is_done_twice(circuit, symptom):
    """No policy does a test or repair twice on one vehicle, and nothing follows a complaint that is gone."""
    for came, world in watched(circuit, symptom).values():
        assert came.histories >= 1
        for journal in world.journal:
            steps = [step[:2] for step in journal]
            assert len(set(steps)) == len(steps)
            assert not any(kind == "repair" and passed for kind, _, passed in journal[:-1])


@pytest.mark.parametrize(("circuit", "symptom"), COMPLAINTS)
def test_vehicles_are_paired(circuit, symptom):
    """The same test on the same vehicle comes out the same under every policy, as long as nothing has been repaired."""
    shown, compared_twice = {}, 0
    for _, world in watched(circuit, symptom).values():
        for row, journal in enumerate(world.journal):
            for kind, index, outcome in journal:
                if kind == "repair":
                    break
                compared_twice += (row, index) in shown
                assert shown.setdefault((row, index), outcome) == outcome
    assert compared_twice > VEHICLES


@pytest.mark.parametrize(("circuit", "symptom"), COMPLAINTS)
def test_plans_cost_what_they_are_expected_to(circuit, symptom):
    """The mean over 3,000 vehicles lies within four standard errors of the exact sum over hypotheses."""
    problem = complaint(circuit, symptom).problem
    vehicles = draw(problem, 3000, np.random.default_rng(11))
    plans = {name: p for name, p in every(circuit, symptom).items() if not isinstance(p, Chooser)}
    assert {"plan", "static tree", "rule", "likeliest first", "probability/cost", "source to load"} <= set(plans)
    for name, plan in plans.items():
        came, exact = lead(problem, plan, Described(problem, vehicles)), value_of(problem, plan)
        for field in ("cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over", "gave_up"):
            off = abs(came.mean(field) - getattr(exact, field))
            assert off <= 4.0 * came.error(field) + 1e-9, (name, field)


@pytest.mark.parametrize(("circuit", "symptom"), COMPLAINTS)
@pytest.mark.parametrize("depth", [1, 2])
def test_the_bench_asks_for_what_advice_names(circuit, symptom, depth):
    """After the complaint and after one outcome the step from arrays is the one that the advice itself names."""
    case, model = complaint(circuit, symptom), small_model(circuit)
    stage, belief, findings, opened = case.problem.stage, case.problem.belief, [SymptomFinding(symptom)], frozenset()
    for _ in range(2):
        step = next_step(case, stage, belief, depth)
        named = decide(model, findings, depth=depth, opened=opened).next
        assert (step.kind, model.compiled.tests[step.index].id) == (named.kind, named.id)
        test = model.tests[named.id]
        joint = case.problem.split(belief, step.index)
        outcome = int(joint.sum(axis=0).argmax())
        findings.append(OutcomeFinding(test.id, test.outcomes[outcome].id))
        belief, stage = joint[:, outcome] / joint[:, outcome].sum(), case.problem.after_test(stage, step.index)
        opened |= {list(model.schematic.places)[i] for i in stage.opened}


def test_differences_are_between_the_same_vehicles():
    """A mean and its limit are those of the differences written out."""
    came = {name: found for name, (found, _) in watched(*COMPLAINTS[0]).items()}
    found = Compared(*COMPLAINTS[0], came, {}, 0.0)
    gaps = [a - 0.9 * b for a, b in zip(came["plan"].values["cost"], came["chart"].values["cost"], strict=True)]
    mean, upper = difference(found, "plan", "chart", 0.9)
    assert mean == pytest.approx(sum(gaps) / len(gaps))
    assert upper == pytest.approx(mean + 1.645 * np.std(gaps, ddof=1) / len(gaps) ** 0.5)


def test_the_same_seed_draws_the_same_vehicles():
    """A comparison made twice is the same to the last vehicle, and its lower bound lies below every exact cost."""
    model = small_model("belt-reminder")
    one, two = (compared(model, "lamp-never-goes-out", 20, deep=0.5) for _ in range(2))
    for name, came in one.came.items():
        assert (came.values["cost"] == two.came[name].values["cost"]).all()
    assert all(one.lower <= cost + 1e-9 for cost in one.exact.values())


def every_tree(problem, tests, weights, stage):
    """Every tree on some tests, with the advice to give up as its leaves; the slow twin of the search."""
    yield GiveUp()
    for test in tests:
        rest = [other for other in tests if other != test]
        if problem.tests.outcomes[test] == 2:
            for left in every_tree(problem, rest, weights, stage):
                for right in every_tree(problem, rest, weights, stage):
                    yield TestStep(test, (left, right))


@pytest.mark.parametrize("seed", range(12))
def test_the_static_tree_is_the_best_of_all(seed):
    """On tests of two outcomes no tree that can be written is cheaper, and the one found is among them."""
    problem = drawn(seed, tests=4)
    tests = [t for t, outcomes in enumerate(problem.tests.outcomes) if outcomes == 2][:3]
    costs = [value_of(problem, tree).cost for tree in every_tree(problem, tests, problem.belief, problem.stage)]
    assert value_of(problem, static_tree(problem, tests)).cost == pytest.approx(min(costs), rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_a_static_tree_keeps_the_tests_that_are_worth_most_alone(seed):
    """Of more tests than a tree may have those are kept that cost least with nothing but repairs after them."""
    problem = drawn(seed, tests=5)
    ends = [(GiveUp(),) * count for count in problem.tests.outcomes]
    alone = [value_of(problem, TestStep(test, branches)).cost for test, branches in enumerate(ends)]
    kept = sorted(np.argsort(alone, kind="stable")[:2].tolist())
    one, two = static_tree(problem, range(5), most=2), static_tree(problem, kept)
    assert value_of(problem, one).cost == pytest.approx(value_of(problem, two).cost, rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_no_policy_beats_the_optimum(seed):
    """On drawn problems with few steps every policy costs at least what trying everything finds."""
    problem = drawn(seed, causes=3, tests=2, repairs=3)
    least = optimum(problem)
    plans = [plan_by_steps(problem), static_tree(problem, range(2)), GiveUp()]
    costs = [value_of(problem, plan).cost for plan in plans]
    assert min(costs) >= least * (1.0 - 1e-9)
    assert costs[1] <= costs[2] * (1.0 + 1e-9)


def test_free_tests_cost_no_more_than_any_plan():
    """On 100 problems the sharp bound holds at every stage of a search, and is above the usual one on average."""
    gained = []
    for seed in range(100):
        problem = drawn(seed, causes=3, tests=3, repairs=2)
        best = optimum(problem)
        for nodes in (1, 4, 400):
            plain, sharp = (find_plan(problem, nodes=nodes, outlook=how.of(problem)) for how in (Outlook, SharpOutlook))
            assert sharp.lower <= best * (1.0 + 1e-7), (seed, nodes)
            assert best <= sharp.cost * (1.0 + 1e-7), (seed, nodes)
            gained.append((sharp.lower - plain.lower) / best)
    assert np.mean(gained[1::3]) > 0.01


def test_a_small_instance_is_bounded_from_both_sides():
    """What is proved lies below the best plan known, which lies below the advisor's; more search proves no less."""
    case = complaint("reversing-lamps", "always-on")
    problem = cut(case.problem, *most_valued(case, 3))
    found = [ratio_of("always-on", problem, nodes) for nodes in (1, 20, 60)]
    assert all(r.lower <= r.best <= r.advisor for r in found)
    assert all(a.lower <= b.lower + 1e-9 for a, b in pairwise(found))
    assert found[-1].ratio <= 1.05


def test_agreement_is_counted_at_every_history():
    """Led one vehicle at a time, most steps are those of the advice, and the first of each vehicle is."""
    circuit, symptom = COMPLAINTS[1]
    case = complaint(circuit, symptom)
    same = agreement(case, symptom, 3, 1, np.random.default_rng(3))
    firsts = [agreement(case, symptom, 1, 1, np.random.default_rng(seed))[0] for seed in range(2)]
    assert len(same) >= 3
    assert same[0] and all(firsts)
    assert np.mean(same) >= 0.6


def test_tables_name_every_policy_and_its_cost(capsys):
    """The printed tables hold the mean cost of each policy and say of each line whether it is held."""
    came = {name: found for name, (found, _) in watched(*COMPLAINTS[0]).items()}
    report([Compared(*COMPLAINTS[0], came, {}, 0.0)], 250.0, 1.0)
    told = capsys.readouterr().out
    for name, found in came.items():
        assert f"{name} " in told
        assert f"{found.mean('cost'):.1f} ±" in told
    assert told.count(" yes ") + told.count(" no ") == 8
