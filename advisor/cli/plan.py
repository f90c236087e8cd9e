"""The command that writes the whole plan for a complaint."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

import click

import advisor
from advisor.cli.asked import number, priced
from advisor.cli.sheet import as_html, as_text
from advisor.contract.nearest import unknown
from advisor.contract.plan_answer import PlanAnswer, present_plan
from advisor.decision.advice import Costs
from advisor.decision.complaint import Complaint, complaint_of
from advisor.decision.conditional import Limits, plan_for
from advisor.errors import UsageError
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle

_LIMITS = Limits()
_FORMS: Mapping[str, Callable[[PlanAnswer], str]] = {
    ".html": as_html,
    ".json": lambda answer: answer.model_dump_json(indent=1) + "\n",
}


def reported(model: Model, symptom: str, options: Mapping[str, float]) -> Complaint:
    """Weigh a symptom with the options of `priced`.

    Raises:
        UsageError: the circuit has no such symptom.
    """
    if symptom not in model.schematic.symptoms:
        raise UsageError(f"--symptom: {unknown('symptom', symptom, model.schematic.symptoms)}")
    vehicle = Vehicle(options["years"], options["hours"])
    return complaint_of(model, symptom, vehicle, Costs(options["labour"], options["hand_over"]))


@click.command()
@click.argument("circuit")
@click.option("--symptom", required=True, metavar="S", help="What the customer reports.")
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the plan to a file: .html to be printed, .json for a program.",
)
@click.option(
    "--least-share",
    type=click.FloatRange(0.001, 0.5),
    default=_LIMITS.share,
    show_default=True,
    callback=number,
    help="Smallest share of all vehicles for which a step is written.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@priced
def plan(circuit: str, symptom: str, output: Path | None, least_share: float, as_json: bool, **options: float) -> None:
    """Write the whole plan for a complaint: every step, and where each outcome leads.

    CIRCUIT is a circuit's id, or the path of its file.  Where few vehicles would come to, the plan ends and
    `advisor advise` goes on from what was found; the share of these is told.
    """
    if output is not None and output.suffix not in _FORMS:
        raise UsageError(f"-o {output}: expected a name that ends in {' or '.join(_FORMS)}")
    complaint = reported(advisor.load(circuit), symptom, options)
    answer = present_plan(complaint, symptom, plan_for(complaint, Limits(least_share)))
    if output is not None:
        _write(output, _FORMS[output.suffix](answer))
    if as_json:
        click.echo(answer.model_dump_json())
    elif output is not None:
        click.echo(f"{output}: {len(answer.steps)} steps")
    else:
        click.echo(as_text(answer))


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"cannot write {path}: {error.strerror}") from error
