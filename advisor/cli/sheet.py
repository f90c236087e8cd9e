"""A plan as a sheet of numbered steps for the hands: at the terminal, or as a page to be printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.cli.filled import template
from advisor.contract.cautions import MAKER_PROCEDURE
from advisor.contract.plan_answer import PlanAnswer, StepOut, WayOut

ENDS = {
    "fixed": "done: put all back",
    "hand_over": "hand the vehicle over",
    "go_on": "ask the advisor",
}


@dataclass(frozen=True)
class Direction:
    """Outcomes that lead to one place, and which place that is."""

    outcomes: tuple[str, ...]
    good: bool
    then: str


def directions(step: StepOut) -> tuple[Direction, ...]:
    """Join the outcomes of a step that lead to one place; the good ones stand first, then the likely ones."""
    ways = sorted(step.outcomes, key=lambda way: (not way.good, -way.probability))
    goals = dict.fromkeys((way.step, way.end, way.good) for way in ways)
    return tuple(
        Direction(tuple(_said(way) for way in ways if (way.step, way.end, way.good) == goal), goal[2], _then(*goal[:2]))
        for goal in goals
    )


def as_text(answer: PlanAnswer) -> str:
    """Give a plan as plain text."""
    return "\n".join([f"{answer.title}: {answer.symptom_title}", *promise(answer), "", *map(_text, answer.steps)])


def as_html(answer: PlanAnswer) -> str:
    """Give a plan as a page that prints on A4."""
    return template("plan.html").render(
        answer=answer, promise=promise(answer), directions=directions, cautions=_cautions, first=_before(answer)
    )


def promise(answer: PlanAnswer) -> tuple[str, ...]:
    """Say what a plan is expected to come to, and what it leaves out."""
    value = answer.value
    return (
        f"On average {value.minutes:.0f} min of work, {value.cost:.0f} {answer.currency} with parts and handing over, "
        f"{value.tests:.1f} tests and {value.wrong_parts:.1f} wrong parts.",
        f"Of 100 vehicles about {100 * value.fixed:.0f} are fixed and {100 * value.handed_over:.0f} handed over.",
        f"For {100 * value.cut_off:.0f} of 100 this sheet ends before the fault is found: ask the advisor then, "
        "with advisor advise and what you found. They are reckoned here as repaired without further tests.",
    )


def _said(way: WayOut) -> str:
    if not way.unit or any(letter.isdigit() for letter in way.label) or (way.low is None and way.high is None):
        return way.label
    low = "" if way.low is None else f"from {way.low:.3g} {way.unit}"
    high = "" if way.high is None else f"below {way.high:.3g} {way.unit}"
    return f"{way.label}, {low} {high}".strip()


def _then(step: int | None, end: str | None) -> str:
    return f"go to step {step}" if step is not None else ENDS[str(end)]


def _cautions(step: StepOut) -> Sequence[str]:
    """The safety lines of a step; the maker's procedure stands once, above all steps."""
    return [line.text for line in step.cautions if line.id != MAKER_PROCEDURE]


def _before(answer: PlanAnswer) -> str:
    return next((line.text for step in answer.steps for line in step.cautions if line.id == MAKER_PROCEDURE), "")


def _text(step: StepOut) -> str:
    rows = [f"{step.id}. {step.title}"]
    rows += [f"   set up: {'; '.join(step.setup)}"] if step.setup else []
    rows += [f"   mind: {text}" for text in _cautions(step)]
    rows += [f"   where: {step.place.title}"] if step.place else []
    rows += [f"   {lead.role}: {lead.text}" for lead in step.leads]
    if step.test:
        rows.append(f"   note: {step.test}={'|'.join(way.outcome for way in step.outcomes)}")
    for way in directions(step):
        rows.append(f"   if {' or '.join(way.outcomes)}{' (good)' if way.good else ''}: {way.then}")
    return "\n".join([*rows, ""])
