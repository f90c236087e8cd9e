"""The whole plan for a complaint: its figures, its ways, its forms."""

import json
import re
from dataclasses import fields
from functools import cache
from html import unescape

import numpy as np
import pytest
from click.testing import CliRunner
from oracles_decision import drive
from shipped_models import small_model

import advisor
from advisor.cli import main
from advisor.decision.advise import decide
from advisor.decision.complaint import complaint_of
from advisor.decision.conditional import Limits, plan_for
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.listed import listed
from advisor.decision.orders import Mover
from advisor.decision.plan import GiveUp, HandOver, RepairStep, TestStep, repair_step, repairs_in_turn, value_of
from advisor.network.findings import SymptomFinding

CASES = [("belt-reminder", "lamp-stays-dark"), ("blower", "only-full-works"), ("reversing-lamps", "both-dark")]
BLOWER = CASES[1]
ENDS = ("fixed", "hand_over", "go_on")


@pytest.fixture(autouse=True)
def small(monkeypatch):
    """Load circuits compiled small."""
    monkeypatch.setattr(advisor, "load", small_model)


@cache
def planned(circuit, symptom):
    """A complaint with its plan, made once."""
    complaint = complaint_of(small_model(circuit), symptom)
    return complaint, plan_for(complaint)


def run(*args):
    """Run the command."""
    return CliRunner().invoke(main, ["plan", *args], catch_exceptions=False)


@cache
def document(circuit, symptom):
    """What --json prints."""
    result = run(circuit, "--symptom", symptom, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


@pytest.mark.parametrize("case", CASES)
def test_the_figures_are_those_of_the_plan(case):
    """The value that is printed is the exact value of the plan, and what is cut off is told."""
    (complaint, plan), value = planned(*case), document(*case)["value"]
    exact = value_of(complaint.problem, plan)
    for name in ("cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over"):
        assert value[name] == getattr(exact, name)
    assert value["cut_off"] == exact.gave_up
    assert value["fixed"] + value["handed_over"] <= 1.0 + 1e-9


def test_the_plan_is_worth_its_while():
    """The plan costs less than repairs without tests, and less than handing over at once."""
    for case in CASES:
        complaint, plan = planned(*case)
        cost = value_of(complaint.problem, plan).cost
        assert cost < value_of(complaint.problem, GiveUp()).cost
        assert cost < value_of(complaint.problem, HandOver()).cost


def with_order(problem, plan, weights, stage):
    """The plan with what follows where it gives up written out, for a walk that knows no giving up."""
    if isinstance(plan, GiveUp):
        mover = Mover.of(problem)
        return repairs_in_turn(problem, mover.greedy(mover.case(stage, weights)).of(0))
    if isinstance(plan, HandOver):
        return plan
    if isinstance(plan, TestStep):
        then, joint = problem.after_test(stage, plan.test), problem.split(weights, plan.test)
        each = zip(plan.branches, joint.T, strict=True)
        return TestStep(plan.test, tuple(with_order(problem, branch, column, then) for branch, column in each))
    repair = plan.repair if isinstance(plan, RepairStep) else problem.explain
    otherwise = plan.not_fixed if isinstance(plan, RepairStep) else plan.not_accepted
    left, then = problem.repaired(weights, repair) * problem.still, problem.after_repair(stage, repair)
    return repair_step(problem, repair, with_order(problem, otherwise, left, then))


def test_drawn_vehicles_come_to_the_figures():
    """Vehicles drawn and led through the plan one by one come to its figures within four standard errors."""
    complaint, plan = planned(*BLOWER)
    problem = complaint.problem
    whole = with_order(problem, plan, problem.belief, problem.stage)
    driven = drive(problem, whole, np.random.default_rng(5), 3000)
    found = value_of(problem, plan)
    keys = [field.name for field in fields(found)][: driven.shape[1]]
    error = driven.std(axis=0) / np.sqrt(len(driven))
    exact = np.array([getattr(found, key) for key in keys])
    assert (np.abs(exact - driven.mean(axis=0)) <= 4.0 * error + 1e-9).all()


@pytest.mark.parametrize("case", CASES)
def test_every_outcome_leads_somewhere_forward(case):
    """Each step answers every outcome of its test; ways lead to later steps or to an end; each step is reached."""
    steps, tests = document(*case)["steps"], small_model(case[0]).tests
    assert [step["id"] for step in steps] == list(range(1, len(steps) + 1))
    led = {1}
    for step in steps:
        if step["kind"] == "test":
            assert [way["outcome"] for way in step["outcomes"]] == [o.id for o in tests[step["test"]].outcomes]
            assert [way["good"] for way in step["outcomes"]].count(True) == 1
        for way in step["outcomes"]:
            assert (way["step"] is None) != (way["end"] is None)
            assert way["step"] is None or step["id"] < way["step"] <= len(steps)
            assert way["end"] in (None, *ENDS)
            led.add(way["step"])
    assert {step["id"] for step in steps} <= led


@pytest.mark.parametrize("case", CASES)
def test_shares_are_kept(case):
    """What comes to a step leaves it by its ways and comes to later steps, or ends; all of it ends."""
    steps = document(*case)["steps"]
    come = {1: 1.0}
    for step in steps:
        assert come[step["id"]] == pytest.approx(step["probability"], abs=1e-9)
        assert sum(way["probability"] for way in step["outcomes"]) == pytest.approx(step["probability"], abs=1e-9)
        for way in step["outcomes"]:
            if way["step"]:
                come[way["step"]] = come.get(way["step"], 0.0) + way["probability"]
    ended = {end: sum(w["probability"] for s in steps for w in s["outcomes"] if w["end"] == end) for end in ENDS}
    assert sum(ended.values()) == pytest.approx(1.0, abs=1e-9)
    assert ended["go_on"] == pytest.approx(document(*case)["value"]["cut_off"], abs=1e-9)


@pytest.mark.parametrize("case", CASES)
def test_no_step_stands_twice(case):
    """Steps that agree in what is done and where each outcome leads are one."""
    said = [(s["name"], s["kind"], *((w["step"], w["end"]) for w in s["outcomes"])) for s in document(*case)["steps"]]
    assert len(set(said)) == len(said)


@pytest.mark.parametrize("case", CASES)
def test_keys_of_the_document(case):
    """A program finds the plan by the keys that the contract names."""
    plan = document(*case)
    assert {"circuit", "symptom", "release", "value", "steps"} <= set(plan)
    for step in plan["steps"]:
        assert {"id", "kind", "title", "condition", "place", "outcomes", "probability", "cautions"} <= set(step)
        assert step[step["kind"] if step["kind"] != "explain" else "title"]


@pytest.mark.parametrize("case", CASES)
def test_the_first_step_is_the_one_that_advice_names(case):
    """Before anything is measured, plan and advice agree."""
    advice = decide(small_model(case[0]), [SymptomFinding(case[1])])
    first = document(*case)["steps"][0]
    assert (first["kind"], first["name"]) == (advice.next.kind, advice.next.id)


@pytest.mark.parametrize("case", CASES)
def test_no_hazard_on_any_way(case):
    """Nowhere in a plan is a jumper put in while an overload is not ruled out, reckoned along every way."""
    complaint, plan = planned(*case)
    problem, tests = complaint.problem, complaint.bench.model.compiled.tests
    over = complaint.bench.model.compiled.jumper_amps > 5.0
    seen = [0]

    def walk(step, weights, stage):
        if isinstance(step, TestStep):
            seen[0] += 1
            assert weights @ over[:, step.test] <= HAZARD_SHARE * weights.sum() + 1e-12, tests[step.test].id
            for branch, column in zip(step.branches, problem.split(weights, step.test).T, strict=True):
                walk(branch, column, problem.after_test(stage, step.test))

    assert complaint.bench.model.schematic.library.instruments["jumper"].fuse_amps == 5.0
    walk(plan, problem.belief, problem.stage)
    assert seen[0] > 3


def test_a_smaller_share_cuts_off_less():
    """With a smaller least share the list is longer, and less is left without a word."""
    complaint, plan = planned(*BLOWER)
    longer = plan_for(complaint, Limits(share=0.002))
    assert len(listed(complaint.problem, longer)) > len(listed(complaint.problem, plan))
    assert value_of(complaint.problem, longer).gave_up < value_of(complaint.problem, plan).gave_up


def test_depth_is_limited():
    """No way is longer than the limit."""
    complaint, _ = planned(*BLOWER)
    short = listed(complaint.problem, plan_for(complaint, Limits(steps=1)))
    assert len(short) == 1
    assert all(way.step is None for way in short[0].ways)


def test_text_and_page_say_each_step(tmp_path):
    """Terminal and page have every title, caution and way; the page breaks inside no step and is black on white."""
    text = run(*BLOWER[:1], "--symptom", BLOWER[1]).output
    path = tmp_path / "plan.html"
    assert run(BLOWER[0], "--symptom", BLOWER[1], "-o", str(path)).exit_code == 0
    page = path.read_text(encoding="utf-8")
    plain = unescape(re.sub(r"\s+", " ", page))
    for step in document(*BLOWER)["steps"]:
        assert f"{step['id']}. {step['title']}" in text
        assert step["title"] in plain
        for caution in step["cautions"]:
            assert caution["text"] in plain
        for way in step["outcomes"]:
            assert way["step"] is None or f"go to step {way['step']}" in plain
    assert "size: A4" in page
    assert "break-inside: avoid" in page
    sizes = [
        float(size) for size in re.findall(r"([\d.]+)pt/|font(?:-size)?: ([\d.]+)pt", page) for size in size if size
    ]
    assert sizes
    assert min(sizes) >= 12.0
    assert set(re.findall(r"#[0-9a-f]{3,6}\b", page)) == {"#000", "#fff"}


def test_a_file_for_a_program(tmp_path):
    """A name that ends in .json gets what --json prints."""
    path = tmp_path / "plan.json"
    assert run(BLOWER[0], "--symptom", BLOWER[1], "-o", str(path)).exit_code == 0
    assert json.loads(path.read_text(encoding="utf-8")) == document(*BLOWER)


@pytest.mark.parametrize(
    ("args", "text"),
    [
        (["blower", "--symptom", "only-ful-works"], "did you mean only-full-works?"),
        (["blower"], "--symptom"),
        (["blower", "--symptom", "only-full-works", "-o", "plan.pdf"], "expected a name that ends in .html or .json"),
        (["blower", "--symptom", "only-full-works", "--least-share", "nan"], "expected a number"),
        (["blower", "--symptom", "only-full-works", "--hand-over", "0"], "--hand-over"),
        (["blower", "--symptom", "only-full-works", "-o", "no/such/folder/x.json"], "cannot write"),
    ],
)
def test_bad_requests_end_with_two(args, text):
    """What is wrong is named, and the exit code is 2."""
    result = CliRunner().invoke(main, ["plan", *args])
    assert result.exit_code == 2
    assert text in result.output
