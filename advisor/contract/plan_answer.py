"""A whole plan as types, and how its steps are worded."""

from __future__ import annotations

from advisor.contract.answer import ConditionOut, PlaceOut, Release, condition
from advisor.contract.cautions import Caution, cautions
from advisor.contract.frozen import Answered
from advisor.contract.hands import leads, setup_lines
from advisor.contract.version import ENGINE_VERSION
from advisor.contract.wording import end, place_title
from advisor.decision.complaint import Complaint
from advisor.decision.listed import Listed, Way, listed
from advisor.decision.plan import Plan, PlanValue, RepairStep, TestStep, value_of
from advisor.decision.working import timed_test
from advisor.knowledge.catalogue import Outcome, Test
from advisor.network.worlds import NONE

EXPLAIN_TITLE = "Show the customer how it is meant to behave, and ask when it happens"


class PlanValueOut(Answered):
    """What a plan is expected to come to over all hypotheses: money, minutes, counts, and shares of vehicles.

    `cut_off` is the share for which the plan ends without a word; it is valued with repairs that follow without tests,
    so that it is part of `fixed` and `handed_over` too.
    """

    cost: float
    minutes: float
    tests: float
    wrong_parts: float
    fixed: float
    handed_over: float
    cut_off: float


class LeadOut(Answered):
    """Where a lead goes: role is red, black, bridge or clamp."""

    role: str
    text: str


class WayOut(Answered):
    """One outcome of a step, its range, and where it leads: to a later step, or to an end.

    `end` is fixed, hand_over, or go_on, which is to ask for advice with what was found; `probability` is the share of
    all vehicles.
    """

    outcome: str
    label: str
    low: float | None
    high: float | None
    unit: str
    good: bool
    probability: float
    step: int | None
    end: str | None


class StepOut(Answered):
    """A step of a plan: kind is test, repair or explain, `name` the id of the test or repair.

    `probability` is the share of all vehicles that come to it.
    """

    id: int
    kind: str
    name: str | None
    test: str | None
    repair: str | None
    title: str
    condition: ConditionOut | None
    setup: tuple[str, ...]
    place: PlaceOut | None
    instrument: str | None
    leads: tuple[LeadOut, ...]
    minutes: float
    probability: float
    cautions: tuple[Caution, ...]
    outcomes: tuple[WayOut, ...]


class PlanAnswer(Answered):
    """A whole plan for a complaint."""

    circuit: str
    title: str
    vehicle: str
    symptom: str
    symptom_title: str
    release: Release
    currency: str
    value: PlanValueOut
    steps: tuple[StepOut, ...]


def value_out(value: PlanValue) -> PlanValueOut:
    """Word the value of a plan."""
    fields = ("cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over")
    return PlanValueOut(**{name: getattr(value, name) for name in fields}, cut_off=value.gave_up)


def present_plan(complaint: Complaint, symptom: str, plan: Plan) -> PlanAnswer:
    """Word a plan for a complaint; every number keeps its full precision."""
    model, schematic = complaint.bench.model, complaint.bench.model.schematic
    return PlanAnswer(
        circuit=schematic.id,
        title=schematic.title,
        vehicle=schematic.vehicle_title,
        symptom=symptom,
        symptom_title=schematic.symptoms[symptom].title,
        release=Release(knowledge=model.knowledge, priors=model.priors, engine=ENGINE_VERSION),
        currency=complaint.bench.costs.currency,
        value=value_out(value_of(complaint.problem, plan)),
        steps=tuple(_step(complaint, step) for step in listed(complaint.problem, plan)),
    )


def _step(complaint: Complaint, step: Listed) -> StepOut:
    if isinstance(step.plan, TestStep):
        return _test(complaint, complaint.bench.model.compiled.tests[step.plan.test], step)
    return _repair(complaint, step)


def _test(complaint: Complaint, test: Test, step: Listed) -> StepOut:
    schematic = complaint.bench.model.schematic
    placed = leads(test.instrument, test.probe, test.setup.jumper, schematic)
    return StepOut(
        id=step.number,
        kind="test",
        name=test.id,
        test=test.id,
        repair=None,
        title=test.title,
        condition=condition(test, schematic),
        setup=setup_lines(test.condition_text, test.setup.unplug, schematic),
        place=PlaceOut(id=test.place, title=place_title(schematic, test.place)) if test.opens else None,
        instrument=test.instrument,
        leads=tuple(LeadOut(role=lead.role, text=lead.text) for lead in placed),
        minutes=timed_test(complaint.bench.model, test),
        probability=step.share,
        cautions=cautions((*test.cautions, *(["disturbing"] if test.disturbing else [])), schematic.library),
        outcomes=tuple(
            _outcome(test, outcome, way, good=good)
            for outcome, way, good in zip(test.outcomes, step.ways, _sound(complaint, test), strict=True)
        ),
    )


def _sound(complaint: Complaint, test: Test) -> list[bool]:
    """Whether each outcome is the one that a sound vehicle shows most."""
    worlds = complaint.bench.worlds
    shown = worlds.likelihood[NONE, worlds.columns[worlds.tests.index(test.id)]]
    return [index == int(shown.argmax()) for index in range(len(shown))]


def _outcome(test: Test, outcome: Outcome, way: Way, *, good: bool) -> WayOut:
    return WayOut(
        outcome=outcome.id,
        label=outcome.label,
        low=end(outcome.low),
        high=end(outcome.high),
        unit=test.unit,
        good=good,
        probability=way.share,
        step=way.step,
        end=way.end,
    )


def _repair(complaint: Complaint, step: Listed) -> StepOut:
    ground, schematic = complaint.bench.ground, complaint.bench.model.schematic
    plan = ground.plans[step.plan.repair] if isinstance(step.plan, RepairStep) else None
    index = step.plan.repair if isinstance(step.plan, RepairStep) else len(ground.plans)
    return StepOut(
        id=step.number,
        kind="repair" if plan else "explain",
        name=plan.id if plan else None,
        test=None,
        repair=plan.id if plan else None,
        title=plan.title if plan else EXPLAIN_TITLE,
        condition=None,
        setup=(),
        place=PlaceOut(id=plan.place, title=place_title(schematic, plan.place)) if plan else None,
        instrument=None,
        leads=(),
        minutes=float(complaint.problem.repairs.minutes[index]),
        probability=step.share,
        cautions=cautions(plan.cautions if plan else (), schematic.library),
        outcomes=_proofs(step),
    )


def _proofs(step: Listed) -> tuple[WayOut, ...]:
    """The two outcomes of a repair or of explaining."""
    words = (
        (("fixed", "the complaint is gone"), ("not-fixed", "the complaint is still there"))
        if isinstance(step.plan, RepairStep)
        else (("accepted", "the customer is content"), ("not-accepted", "the complaint stands"))
    )
    return tuple(
        WayOut(
            outcome=outcome,
            label=label,
            low=None,
            high=None,
            unit="",
            good=way.end == "fixed",
            probability=way.share,
            step=way.step,
            end=way.end,
        )
        for (outcome, label), way in zip(words, step.ways, strict=True)
    )
