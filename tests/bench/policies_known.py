"""The policies that the bench compares, each for one complaint: the advisor's and those that need no computer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from bench.policy_walk import Chooser, Policy
from bench.rule_form import Rule
from bench.rules import RULES, SOURCE_TO_LOAD
from bench.static_tree import static_tree

from advisor.decision.charted import chart_plan, likeliest_first
from advisor.decision.choosing import Choosing, best_step
from advisor.decision.complaint import Complaint
from advisor.decision.conditional import Limits, plan_for
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.lookahead import Ahead, Choice, look_ahead
from advisor.decision.outlook import HAND_OVER, Step
from advisor.decision.plan import GiveUp
from advisor.decision.problem import Stage
from advisor.decision.valued import Reported, one_step
from advisor.knowledge.checking import chart_problems
from advisor.knowledge.documents import Address, Chart, ChartAnswer, ChartStep
from advisor.knowledge.model import Model
from advisor.knowledge.reader import read_chart_and_circuit
from advisor.network.worlds import AS_DESIGNED, NONE

CHARTS = Path(__file__).parent / "charts"
NOWHERE = Address("rules.py", 1, 1)
ADVISOR = ("one step", "two steps", "plan")
"""Names of the advisor's own policies."""


def policies(
    complaint: Complaint,
    symptom: str,
    deep: float = 0.0,
    limits: Limits = Limits(),  # noqa: B008  frozen
) -> dict[str, Policy]:
    """Every policy for a complaint, by its name; charts where the symptom has one.

    Args:
        complaint: Of the symptom.
        symptom: Its id.
        deep: Two steps are looked ahead for histories that this share of all vehicles has, one step for rarer ones,
            and no more tests are asked for in rarer ones once a repair has not helped.
        limits: Where the compiled plan ends without a word.
    """
    model = complaint.bench.model
    circuit = model.schematic.id
    found: dict[str, Policy] = {
        "one step": Chooser(lambda stage, belief, share: _step(complaint, stage, belief, 1, share < deep)),
        "two steps": Chooser(
            lambda stage, belief, share: _step(complaint, stage, belief, 1 + (share >= deep), share < deep)
        ),
        "plan": plan_for(complaint, limits),
    }
    charts = charts_for(model, symptom)
    found |= {name: chart_plan(complaint, chart) for name, chart in charts.items()}
    rule = as_chart(model, symptom, RULES[circuit][symptom])
    tests = {model.positions[step.test] for step in charts.get("chart", rule).steps}
    in_order = as_chart(model, symptom, in_turn(model, *SOURCE_TO_LOAD[circuit][symptom]))
    return found | {
        "static tree": static_tree(complaint.problem, sorted(tests)),
        "rule": chart_plan(complaint, rule),
        "likeliest first": likeliest_first(complaint.problem),
        "probability/cost": GiveUp(),
        "source to load": chart_plan(complaint, in_order),
    }


def _step(complaint: Complaint, stage: Stage, belief: np.ndarray, depth: int, rare: bool) -> Step:
    if rare and stage.repairs:
        order = complaint.outlook.repairing(stage, belief).of(0)
        return Step("repair", order[0]) if order else HAND_OVER
    return next_step(complaint, stage, belief, depth)


def next_step(complaint: Complaint, stage: Stage, belief: np.ndarray, depth: int) -> Step:
    """The step that advice would name at a belief, hazardous tests left out."""
    risky = np.flatnonzero(complaint.bench.overload(belief) > HAZARD_SHARE).tolist()
    stage = replace(stage, tests=stage.tests | frozenset(risky))
    if depth == 1 and not stage.repairs:
        places = list(complaint.bench.model.schematic.places)
        bench = replace(complaint.bench, opened=frozenset(places[i] for i in stage.opened))
        problem = complaint.problem
        reported = Reported(problem.passes, problem.looks, bool(stage.tests & problem.looks))
        return one_step(bench, belief, problem.tests_left(stage), reported).best
    if depth > 1:
        return Choosing(complaint.bench, complaint.outlook).step(stage, belief)
    ahead = look_ahead(complaint.outlook, stage, belief, tests=0, repairs=0)
    sound = float(belief[[NONE, AS_DESIGNED]].sum())
    return best_step(_one_ahead(ahead), len(complaint.bench.ground.plans), sound, ()).step


def _one_ahead(ahead: Ahead) -> Ahead:
    """After a repair that did not help: the cheapest test one step ahead, else the first repair without tests."""
    tests = [choice for choice in ahead.one if choice.step.kind == "test"]
    if tests and tests[0].cost < ahead.now:
        return replace(ahead, best=Choice(tests[0].step, tests[0].cost))
    return ahead


def charts_for(model: Model, symptom: str) -> dict[str, Chart]:
    """The printed chart of a symptom and the same with its blind spot filled, where there is one."""
    schematic = model.schematic
    printed = [chart for chart in schematic.charts if chart.symptom == symptom]
    if not printed:
        return {}
    filled, _ = read_chart_and_circuit(CHARTS / f"{schematic.id}-filled.chart.yaml")
    return {"chart": printed[0], "filled chart": _checked(model, filled)}


def as_chart(model: Model, symptom: str, rule: Rule) -> Chart:
    """A rule as a chart."""
    circuit = model.schematic.id
    steps = [ChartStep(name, test, "", tuple(_answers(answers)), NOWHERE) for name, (test, answers) in rule.items()]
    return _checked(model, Chart("rule", "", circuit, symptom, steps[0].id, tuple(steps), NOWHERE))


def _answers(answers: Mapping[str, str]) -> list[ChartAnswer]:
    found = []
    for outcomes, answer in answers.items():
        go = answer.removeprefix("-> ") if answer.startswith("-> ") else None
        blames = () if go else tuple(answer.split())
        found += [ChartAnswer(outcome, go, blames, NOWHERE) for outcome in outcomes.split()]
    return found


def _checked(model: Model, chart: Chart) -> Chart:
    """The same chart, its tests, outcomes and parts proved to be there."""
    problems = list(chart_problems(chart, model.compiled))
    unknown = chart.blamed - set(model.cause_parts)
    assert not problems, [str(problem) for problem in problems]
    assert not unknown, unknown
    return chart


def in_turn(model: Model, way: Sequence[tuple[str, str, str]], behind: str) -> Rule:
    """Tests one after another; a good outcome leads to the next, any other blames what lies before it."""
    rule = {}
    for number, (test, good, before) in enumerate(way):
        last = number == len(way) - 1
        bad = " ".join(o.id for o in model.tests[test].outcomes if o.id not in good.split())
        rule[str(number)] = (test, {good: behind if last else f"-> {number + 1}", bad: before})
    return rule
