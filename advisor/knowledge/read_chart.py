"""The printed chart, format chart/1: a step-by-step tree for one symptom."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.knowledge.documents import Address, Chart, ChartAnswer, ChartStep
from advisor.knowledge.fields import Entries, Record, checked_only, optional, required
from advisor.knowledge.kinds import Choice, Id, ListOf, Text, To
from advisor.knowledge.notes import Notes
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode

FORMAT = "chart/1"


def _answer(
    id: str,
    at: Address,
    go: str | None = None,
    blames: tuple[str, ...] = (),
) -> ChartAnswer:
    return ChartAnswer(id, go, blames, at)


def _step(
    id: str,
    at: Address,
    test: str,
    text: str,
    answers: Mapping[str, ChartAnswer],
) -> ChartStep:
    return ChartStep(id, test, text, tuple(answers.values()), at)


def _chart(  # noqa: PLR0913, PLR0917  one argument per key of the file
    at: Address,
    chart: str = "",
    title: str = "",
    circuit: str = "",
    symptom: str = "",
    start: str = "",
    steps: Mapping[str, ChartStep] | None = None,
) -> Chart:
    return Chart(chart, title, circuit, symptom, start, tuple((steps or {}).values()), at)


def _check_answer(node: YamlMap, answer: ChartAnswer, notes: Notes) -> None:
    if ("go" in node.entries) == ("blames" in node.entries):
        notes.report(node.at, "expected either go or blames")


def _check_chart(node: YamlMap, chart: Chart, notes: Notes) -> None:
    """Report steps that the start never leads to, and loops."""
    declared = notes.declared.get("steps", {})
    if len(declared) != len(chart.steps) or chart.start not in declared:
        return  # a broken step or start is reported already and would make others look unreachable
    leads_to = {step.id: {str(answer.go) for answer in step.answers if answer.go in declared} for step in chart.steps}
    reached, todo = {chart.start}, [chart.start]
    while todo:
        new = leads_to[todo.pop()] - reached
        reached |= new
        todo += sorted(new)
    for name, at in declared.items():
        if name not in reached:
            notes.report(at, f"step {name!r} is never reached from start {chart.start!r}")
    loop = _loop(leads_to)
    for step in chart.steps:
        for answer in step.answers:
            if step.id in loop and answer.go in loop:
                notes.report(answer.at, f"step {step.id!r} leads back to itself here, expected a path to a verdict")


def _loop(leads_to: Mapping[str, set[str]]) -> set[str]:
    """Return the steps on loops: take away steps that nothing follows or nothing precedes until none is left."""
    left = dict(leads_to)
    while True:
        inner = set(left) & {other for others in left.values() for other in others}
        kept = {step: others & inner for step, others in left.items() if step in inner and others & inner}
        if kept == left:
            return set(kept)
        left = kept


ANSWER = Record(
    _answer,
    {"go": optional(To("step")), "blames": optional(ListOf(To("part"), least=1, unique=True))},
    check=_check_answer,
)
STEP = Record(
    _step,
    {"test": required(Text()), "text": required(Text()), "answers": required(Entries(ANSWER, least=1))},
)
CHART = Record(
    _chart,
    {
        "format": checked_only(Choice((FORMAT,))),
        "chart": required(Id()),
        "title": required(Text()),
        "circuit": required(Text()),
        "symptom": required(To("symptom")),
        "start": required(To("step")),
        "steps": required(Entries(STEP, section="steps", least=1)),
    },
    check=_check_chart,
    lenient=True,
)


def chart_file(node: YamlNode | None, notes: Notes) -> Chart | None:
    """Read a chart; problems go to `notes`."""
    return CHART.read_whole(node, notes)
