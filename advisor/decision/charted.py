"""A printed chart as a plan, and what becomes of vehicles that are led by it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.decision.complaint import Complaint
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.plan import GiveUp, Plan, PlanValue, RepairStep, TestStep, repairs_in_turn, value_of
from advisor.decision.problem import Problem, Stage
from advisor.knowledge.documents import Chart, ChartAnswer, ChartStep
from advisor.network.worlds import Floats


@dataclass(frozen=True)
class Verdict:
    """An answer of a chart that blames parts.

    Attributes:
        step: The chart's step.
        outcome: The outcome that leads to it.
        blames: The parts.
        reached: Share of all vehicles that come to it.
        wrong: Share of all vehicles that come to it with none of these parts at fault.
    """

    step: str
    outcome: str
    blames: tuple[str, ...]
    reached: float
    wrong: float


@dataclass(frozen=True)
class Audit:
    """What a chart comes to.

    Attributes:
        value: Of the chart as a plan.
        verdicts: In the order in which the chart is followed.
        unanswered: Share of all vehicles with an outcome that the chart has no answer for.
        never_named: Causes that start its symptom and lie in no part that it blames, likeliest first.
        shares: Probability of each of these after the complaint.
        hazards: Of each step that advice would withhold, the share of all vehicles whose fault could overload the
            jumper, at its cavities or one off.
    """

    value: PlanValue
    verdicts: tuple[Verdict, ...]
    unanswered: float
    never_named: tuple[str, ...]
    shares: tuple[float, ...]
    hazards: Mapping[str, float]


def audit(complaint: Complaint, chart: Chart, starters: Sequence[str]) -> Audit:
    """Follow a chart with every hypothesis.

    Args:
        complaint: Of the chart's symptom.
        chart: A chart whose tests and outcomes exist.
        starters: Causes that start the symptom.
    """
    problem, model = complaint.problem, complaint.bench.model
    follow = _Follow(complaint, {step.id: step for step in chart.steps})
    plan = follow.step(chart.start, problem.stage, problem.belief, {})
    probability = dict(zip(model.compiled.causes, model.worlds.with_cause(problem.belief).tolist(), strict=True))
    part = {cause.id: cause.part for cause in model.wiring.causes}
    missed = sorted((c for c in starters if part[c] not in chart.blamed), key=lambda c: (-probability[c], c))
    shares = tuple(probability[cause] for cause in missed)
    unanswered = sum(follow.unanswered)
    return Audit(value_of(problem, plan), _joined(follow.verdicts), unanswered, tuple(missed), shares, follow.hazards)


def chart_plan(complaint: Complaint, chart: Chart) -> Plan:
    """A chart as a plan; an outcome without an answer, and a verdict that did not help, give up."""
    follow = _Follow(complaint, {step.id: step for step in chart.steps})
    return follow.step(chart.start, complaint.problem.stage, complaint.problem.belief, {})


def _joined(verdicts: Sequence[Verdict]) -> tuple[Verdict, ...]:
    """Verdicts with those that several ways lead to added up."""
    joined: dict[tuple[str, str], Verdict] = {}
    for new in verdicts:
        old = joined.get((new.step, new.outcome), replace(new, reached=0.0, wrong=0.0))
        joined[new.step, new.outcome] = replace(old, reached=old.reached + new.reached, wrong=old.wrong + new.wrong)
    return tuple(joined.values())


def likeliest_first(problem: Problem) -> Plan:
    """Swap the likeliest part first: repairs by how likely each changes anything, without tests.

    At least one is done; after which of them to hand over is chosen so that the whole costs least.
    """
    chance = _chances(problem, problem.belief)
    order = sorted(problem.repairs_left(problem.stage), key=lambda repair: -chance[repair])
    plans = [repairs_in_turn(problem, order[:stop]) for stop in range(1, len(order) + 1)]
    return min(plans, key=lambda plan: value_of(problem, plan).cost)


def _chances(problem: Problem, weights: Floats) -> Floats:
    """Weight that each repair would change, shape (R,)."""
    chances: Floats = (problem.repairs.after != np.arange(len(weights))) @ weights
    return chances


@dataclass(frozen=True, eq=False)
class _Follow:
    """Makes the plan of a chart, and notes who comes to which verdict on the way."""

    complaint: Complaint
    steps: dict[str, ChartStep]
    verdicts: list[Verdict] = field(default_factory=list)
    unanswered: list[float] = field(default_factory=list)
    hazards: dict[str, float] = field(default_factory=dict)

    def step(self, name: str, stage: Stage, weights: Floats, known: Mapping[str, str]) -> Plan:
        """Go on from a step, with the outcomes of the tests on the way there."""
        problem, step, model = self.complaint.problem, self.steps[name], self.complaint.bench.model
        if step.test in known:  # asked once more: nobody measures it again
            return self._answer(step, known[step.test], stage, weights, known)
        test = model.positions[step.test]
        over = float(self.complaint.bench.overload(weights)[test])
        if over > HAZARD_SHARE * float(weights.sum()):
            self.hazards[name] = self.hazards.get(name, 0.0) + over
        then, joint = problem.after_test(stage, test), problem.split(weights, test)
        outcomes = [outcome.id for outcome in model.compiled.tests[test].outcomes]
        branches = [
            self._answer(step, outcome, then, column, {**known, step.test: outcome})
            for outcome, column in zip(outcomes, joint.T, strict=True)
        ]
        return TestStep(test, tuple(branches))

    def _answer(self, step: ChartStep, outcome: str, stage: Stage, weights: Floats, known: Mapping[str, str]) -> Plan:
        answer = next((answer for answer in step.answers if answer.outcome == outcome), None)
        if answer is None:
            self.unanswered.append(float(weights.sum()))
            return GiveUp()
        if answer.go is not None:
            return self.step(answer.go, stage, weights, known)
        return self._verdict(step, answer, stage, weights)

    def _verdict(self, step: ChartStep, answer: ChartAnswer, stage: Stage, weights: Floats) -> Plan:
        worlds = self.complaint.bench.worlds
        named = [i for i, cause in enumerate(self.complaint.bench.model.wiring.causes) if cause.part in answer.blames]
        wrong = ~worlds.holds[:, named].any(axis=1)
        reached = float(weights.sum())
        self.verdicts.append(Verdict(step.id, answer.outcome, answer.blames, reached, float(weights[wrong].sum())))
        plan: Plan = GiveUp()
        for repair in reversed(self._repairs(answer.blames, stage, weights)):
            plan = RepairStep(repair, plan)
        return plan

    def _repairs(self, parts: Sequence[str], stage: Stage, weights: Floats) -> list[int]:
        """The repairs of some parts by probability over cost."""
        problem, plans = self.complaint.problem, self.complaint.bench.ground.plans
        first = {cause: i for i, plan in reversed(list(enumerate(plans))) for cause in plan.restores}
        causes = [cause for cause in self.complaint.bench.model.wiring.causes if cause.part in parts]
        chosen = {first[cause.id] for cause in causes if cause.id in first}
        worth = _chances(problem, weights) / problem.repair_prices(stage.opened)
        return sorted(chosen, key=lambda repair: (-worth[repair], repair))
