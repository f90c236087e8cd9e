"""A printed chart over all hypotheses: what it never names, where it is wrong, what it costs."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from oracles_decision import drive
from problems import NO_PLACES, drawn, lone_faults
from shipped_models import small_model

import advisor
from advisor.cli import main
from advisor.decision.charted import audit as audit_chart
from advisor.decision.charted import likeliest_first
from advisor.decision.complaint import complaint_of
from advisor.decision.plan import repairs_in_turn, value_of
from advisor.knowledge.checking import symptom_causes
from advisor.knowledge.reader import read_chart
from advisor.knowledge.shipped import shipped

CHARTS = Path(shipped("models")) / "quellmar-p3" / "charts"
# What the head of each chart's file says that it forgets.
FORGOTTEN = {
    "belt-reminder": ("buckle-switch", "X33/", "W104", "W105", "G4"),
    "blower": ("X50/4", "blower-motor"),
    "reversing-lamps": ("W301", "W302", "X30/", "S7"),
}


@pytest.fixture(autouse=True)
def small(monkeypatch):
    """Load circuits compiled small."""
    monkeypatch.setattr(advisor, "load", lambda named: small_model(Path(named).stem))


def run(*args):
    """Run the command."""
    return CliRunner().invoke(main, ["audit", *map(str, args)])


def chart_file(name):
    """The file of a shipped chart."""
    return CHARTS / f"{name}.chart.yaml"


@cache
def document(name):
    """What --json prints of a shipped chart."""
    result = run(chart_file(name), "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


@cache
def audited(name):
    """A shipped chart, its complaint and its audit."""
    model, chart = small_model(name), read_chart(chart_file(name))
    complaint = complaint_of(model, chart.symptom)
    return chart, complaint, audit_chart(complaint, chart, symptom_causes(model.wiring, model.compiled)[chart.symptom])


@pytest.mark.parametrize("name", FORGOTTEN)
def test_blind_spots_are_named(name):
    """Causes that the head of the file says are forgotten are among those never named; blamed parts are not."""
    never, blamed = document(name)["chart"]["never_named"], read_chart(chart_file(name)).blamed
    for forgotten in FORGOTTEN[name]:
        assert any(cause.startswith(forgotten) for cause in never), forgotten
    assert [cause for cause in never if cause.rpartition("/")[0] in blamed] == []


@pytest.mark.parametrize("name", FORGOTTEN)
def test_keys_of_the_document(name):
    """A program finds the three ways side by side, the chart dearer than the advisor's plan."""
    found = document(name)
    assert {"cost", "minutes", "fixed", "wrong_verdicts", "never_named"} <= set(found["chart"])
    for way in ("chart", "plan", "likeliest_first"):
        assert all(found[way][key] > 0.0 for key in ("cost", "minutes", "fixed"))
    assert found["plan"]["cost"] < min(found["chart"]["cost"], found["likeliest_first"]["cost"])


@pytest.mark.parametrize("name", FORGOTTEN)
def test_wrong_verdicts_are_those_of_led_vehicles(name):
    """Each hypothesis led through the file by hand: the same shares reach each verdict, and the same are wrong."""
    chart, complaint, found = audited(name)
    model, problem = complaint.bench.model, complaint.problem
    steps, likelihood = {step.id: step for step in chart.steps}, problem.tests.likelihood
    reached, wrong, unanswered = {}, {}, 0.0
    for world, members in enumerate(model.compiled.members):
        parts = {model.wiring.causes[cause].part for cause in members if cause >= 0}
        waiting = [(chart.start, problem.belief[world])]
        while waiting:
            name_, weight = waiting.pop()
            step = steps[name_]
            for outcome in model.tests[step.test].outcomes:
                here = weight * likelihood[world, model.worlds.column_of[step.test, outcome.id]]
                answer = next((a for a in step.answers if a.outcome == outcome.id), None)
                if answer is None:
                    unanswered += here
                elif answer.go:
                    waiting.append((answer.go, here))
                else:
                    key = (step.id, outcome.id)
                    reached[key] = reached.get(key, 0.0) + here
                    wrong[key] = wrong.get(key, 0.0) + here * (not parts & set(answer.blames))
    assert {(v.step, v.outcome) for v in found.verdicts} == set(reached)
    for verdict in found.verdicts:
        assert verdict.reached == pytest.approx(reached[verdict.step, verdict.outcome], abs=1e-12)
        assert verdict.wrong == pytest.approx(wrong[verdict.step, verdict.outcome], abs=1e-12)
    assert found.unanswered == pytest.approx(unanswered, abs=1e-12)
    assert sum(reached.values()) + unanswered == pytest.approx(1.0, abs=1e-9)
    assert document(name)["chart"]["wrong_verdicts"] == pytest.approx(sum(wrong.values()), abs=1e-12)


def test_a_hazardous_bridge_is_told():
    """The reversing lamps' chart bridges the switch's plug before a short behind it is ruled out; others do not.

    A jumper is overloaded where a hypothesis could send more than its 5 A through it: of all that step 1 lets on.
    """
    _, complaint, found = audited("reversing-lamps")
    model, problem = complaint.bench.model, complaint.problem
    column = model.worlds.column_of["volts.X5-3.reverse", "normal"]
    amps = model.compiled.jumper_amps[:, model.positions["jumper.X22-1-to-X22-2.reverse-left.reverse"]]
    share = sum(problem.belief[h] * problem.tests.likelihood[h, column] for h in range(len(amps)) if amps[h] > 5.0)
    assert share > 0.01
    assert found.hazards == {"step-2": pytest.approx(share)}
    assert document("blower")["chart"]["hazards"] == document("belt-reminder")["chart"]["hazards"] == {}
    assert "step-2 bridges" in run(chart_file("reversing-lamps")).output


def by_hand(problem, order):
    """Expected cost of repairs in order, then handing over, one hypothesis and one proof at a time; nothing is open."""
    repairs, total = problem.repairs, 0.0

    def onward(world, left):
        if not left:
            return problem.hand_over
        first, cost = left[0], repairs.price[left[0]]
        chance = repairs.success[first, world]
        for then, share in ((repairs.after[first, world], chance), (repairs.otherwise[first, world], 1.0 - chance)):
            passes = problem.passes[then]
            if share:
                cost += share * (passes * problem.ending[then] + (1.0 - passes) * onward(then, left[1:]))
        return cost

    for world, weight in enumerate(problem.belief):
        total += weight * onward(world, tuple(order)) if weight else 0.0
    return total


def test_likeliest_first_by_hand():
    """Three lone faults of .5, .3 and .2, repairs of 10, 20 and 30: 10 + .5 x 20 + .2 x 30 = 26 with all three."""
    problem = lone_faults(np.array([0.3, 0.5, 0.2]), [20.0, 10.0, 30.0], hand_over=1000.0)
    plan = likeliest_first(problem)
    assert plan == repairs_in_turn(problem, [1, 0, 2])
    assert value_of(problem, plan).cost == pytest.approx(26.0)


@pytest.mark.parametrize("seed", range(12))
def test_likeliest_first_is_the_cheapest_stop_of_its_order(seed):
    """Each stop of the order by probability, summed over single hypotheses: the plan is the cheapest, one at least."""
    problem = drawn(seed, causes=3)
    nowhere = np.full_like(problem.repairs.place, -1)
    tests = replace(problem.tests, place=np.full_like(problem.tests.place, -1))
    problem = replace(
        problem,
        access=NO_PLACES,
        repairs=replace(problem.repairs, place=nowhere),
        tests=tests,
        stage=replace(problem.stage, opened=frozenset()),
    )
    own = range(len(problem.belief))
    chance = [sum(problem.belief[h] for h in own if after[h] != h) for after in problem.repairs.after]
    order = sorted(range(len(chance)), key=lambda repair: -chance[repair])
    least = min(by_hand(problem, order[:stop]) for stop in range(1, len(order) + 1))
    assert value_of(problem, likeliest_first(problem)).cost == pytest.approx(least, rel=1e-9)


def test_likeliest_first_on_a_circuit_is_what_vehicles_come_to():
    """Drawn vehicles, parts swapped one after the other, come to the printed figures within four standard errors."""
    _, complaint, _ = audited("blower")
    driven = drive(complaint.problem, likeliest_first(complaint.problem), np.random.default_rng(3), 3000)
    found = document("blower")["likeliest_first"]
    error = driven.std(axis=0) / np.sqrt(len(driven))
    exact = np.array([found[key] for key in ("cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over")])
    assert (np.abs(exact - driven.mean(axis=0)) <= 4.0 * error + 1e-9).all()


def test_tables_for_a_person():
    """The three ways, each verdict and each cause never named stand in tables."""
    output = run(chart_file("blower")).output
    for text in ("the chart", "likeliest", "step-3, normal", "blower motor: drag", "blames no part at fault"):
        assert text in output


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ("volts.X50-4.three", "volts.X50-4.thre", "unknown test 'volts.X50-4.thre'"),
        ("      low: {blames: [W406]}\n", "", "has no answer for: low"),
        ("raised: {blames: [switch-three]}", "raised: {go: step-1}", "leads back to itself"),
        ("raised: {blames: [switch-three]}", "raised: {go: step-9}", "step-9"),
        ("symptom: only-full-works", "symptom: nothing-works-at-all", "nothing-works-at-all"),
    ],
)
def test_a_broken_chart_is_refused_with_addresses(tmp_path, old, new, text):
    """An unknown test, a missing branch, a loop, a step or symptom that does not exist: file, line, column, exit 2."""
    written = chart_file("blower").read_text(encoding="utf-8")
    assert old in written
    path = tmp_path / "bad.chart.yaml"
    circuit = (CHARTS / "../circuits/blower.yaml").resolve()
    path.write_text(written.replace(old, new).replace("../circuits/blower.yaml", str(circuit)), encoding="utf-8")
    result = run(path)
    assert result.exit_code == 2
    assert text in result.output
    assert f"{path}:" in result.output
    told = json.loads(run(path, "--json").stdout)
    assert told["status"] == 400
    assert text in told["detail"]


def test_a_test_that_is_asked_twice_on_a_way(tmp_path):
    """A chart that asks again what it has asked: the outcome is known, and the chart is followed with it."""
    written = (
        chart_file("blower").read_text(encoding="utf-8").replace("../circuits", str((CHARTS / "../circuits").resolve()))
    )
    again = "  step-4:\n    test: look.blower-motor.four\n    text: Again.\n    answers:\n"
    again += "      full: {blames: [thermal-fuse]}\n      slow: {blames: [G2]}\n      stopped: {blames: [F16]}\n"
    path = tmp_path / "twice.chart.yaml"
    path.write_text(
        written.replace("raised: {blames: [switch-three]}", "raised: {go: step-4}") + again, encoding="utf-8"
    )
    found = json.loads(run(path, "--json").stdout)["chart"]
    at = {(v["step"], v["outcome"]) for v in found["verdicts"] if v["step"] == "step-4"}
    assert at == {("step-4", "full")}
