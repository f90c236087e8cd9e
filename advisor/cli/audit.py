"""The command that runs a printed chart over all hypotheses."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

import advisor
from advisor.cli.asked import priced
from advisor.cli.plan import reported
from advisor.contract.wording import mode_words, part_title
from advisor.decision.charted import Audit, likeliest_first
from advisor.decision.charted import audit as audit_chart
from advisor.decision.conditional import plan_for
from advisor.decision.plan import PlanValue, value_of
from advisor.errors import KnowledgeError, UsageError
from advisor.knowledge.checking import chart_problems, symptom_causes
from advisor.knowledge.documents import Chart
from advisor.knowledge.model import Model
from advisor.knowledge.reader import read_chart_and_circuit


@dataclass(frozen=True)
class _Audited:
    """A chart with what it comes to, beside the advisor's plan and swapping the likeliest part."""

    model: Model
    chart: Chart
    found: Audit
    plan: PlanValue
    likeliest: PlanValue


@click.command()
@click.argument("chart", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@priced
def audit(chart: Path, as_json: bool, **options: float) -> None:
    """Run the printed chart of a file CHART over all hypotheses.

    Tells which causes of its symptom it never names, how often each verdict is wrong, and what it costs beside the
    advisor's plan and beside swapping the likeliest part first.
    """
    audited = _audit(chart, options)
    if as_json:
        click.echo(json.dumps(_document(audited), allow_nan=False))
    else:
        _show(audited)


def _audit(path: Path, options: Mapping[str, float]) -> _Audited:
    try:
        chart, model = _read(path)
    except KnowledgeError as error:  # the file is what was asked about, so that its addresses are told to programs too
        raise UsageError(str(error)) from error
    complaint = reported(model, chart.symptom, options)
    found = audit_chart(complaint, chart, symptom_causes(model.wiring, model.compiled)[chart.symptom])
    plan, likeliest = plan_for(complaint), likeliest_first(complaint.problem)
    return _Audited(model, chart, found, value_of(complaint.problem, plan), value_of(complaint.problem, likeliest))


def _read(path: Path) -> tuple[Chart, Model]:
    chart, circuit = read_chart_and_circuit(path)
    model = advisor.load(circuit)
    problems = list(chart_problems(chart, model.compiled))
    if problems:
        raise KnowledgeError(problems)
    return chart, model


def _document(audited: _Audited) -> Mapping[str, object]:
    found = audited.found
    return {
        "circuit": audited.model.schematic.id,
        "symptom": audited.chart.symptom,
        "chart": {
            **_figures(found.value),
            "wrong_verdicts": sum(verdict.wrong for verdict in found.verdicts),
            "never_named": list(found.never_named),
            "never_named_shares": list(found.shares),
            "unanswered": found.unanswered,
            "hazards": dict(found.hazards),
            "verdicts": [
                {"step": v.step, "outcome": v.outcome, "blames": list(v.blames), "reached": v.reached, "wrong": v.wrong}
                for v in found.verdicts
            ],
        },
        "plan": _figures(audited.plan),
        "likeliest_first": _figures(audited.likeliest),
    }


def _figures(value: PlanValue) -> dict[str, float]:
    return {
        "cost": value.cost,
        "minutes": value.minutes,
        "fixed": value.fixed,
        "tests": value.tests,
        "wrong_parts": value.wrong_parts,
        "handed_over": value.handed_over,
        "gave_up": value.gave_up,
    }


def _show(audited: _Audited) -> None:
    console = Console(markup=False, highlight=False)
    schematic, found = audited.model.schematic, audited.found
    console.print(f"{audited.chart.title}, {schematic.title}: printed chart over all hypotheses of its symptom")
    console.print(_beside(audited))
    wrong = sum(verdict.wrong for verdict in found.verdicts)
    console.print(
        f"of 100 vehicles about {100 * wrong:.0f} come to a verdict that blames no part at fault, "
        f"those with nothing wrong among them; {100 * found.unanswered:.0f} show an outcome without an answer"
    )
    for step, share in found.hazards.items():
        console.print(
            f"{step} bridges where the jumper would carry more than its fuse in {_percent(share)} of vehicles"
        )
    console.print(_verdicts(audited))
    console.print(_blind(audited))


def _beside(audited: _Audited) -> Table:
    columns = ("cost", "min", "tests", "wrong parts", "fixed", "handed over", "gave up")
    table = _table("expected for each vehicle", ("", *columns), left=1)
    for name, value in (
        ("the chart", audited.found.value),
        ("the advisor's plan", audited.plan),
        ("likeliest part first", audited.likeliest),
    ):
        numbers = (f"{value.cost:.0f}", f"{value.minutes:.0f}", f"{value.tests:.1f}", f"{value.wrong_parts:.1f}")
        table.add_row(name, *numbers, *map(_percent, (value.fixed, value.handed_over, value.gave_up)))
    table.caption = "gave up: had no more to say; repairs by probability over cost follow, and are counted"
    return table


def _verdicts(audited: _Audited) -> Table:
    table = _table("verdicts", ("step, outcome", "blames", "reached", "of these wrong"), left=2)
    for verdict in audited.found.verdicts:
        blamed = ", ".join(part_title(audited.model.schematic, part) for part in verdict.blames)
        wrong = _percent(verdict.wrong / verdict.reached) if verdict.reached else "-"
        table.add_row(f"{verdict.step}, {verdict.outcome}", blamed, _percent(verdict.reached), wrong)
    return table


def _blind(audited: _Audited) -> Table:
    found = audited.found
    table = _table("causes that it can never name", ("cause", "share"), left=1)
    for cause, share in zip(found.never_named, found.shares, strict=True):
        part, _, mode = cause.rpartition("/")
        table.add_row(f"{part_title(audited.model.schematic, part)}: {mode_words(mode)}", _percent(share))
    return table


def _table(title: str, columns: tuple[str, ...], left: int) -> Table:
    table = Table(title=title, title_justify="left", caption_justify="left")
    for index, column in enumerate(columns):
        table.add_column(column, justify="left" if index < left else "right", overflow="fold")
    return table


def _percent(share: float) -> str:
    return "<1 %" if 0 < share < 0.005 else f"{100 * share:.0f} %"
