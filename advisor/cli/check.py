"""The command that grades model files."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from advisor.cli.progress import progress_bar
from advisor.decision.testability import Testability, testability
from advisor.engine import cache_folder
from advisor.errors import AdvisorError, CircuitError, KnowledgeError, NetworkTooLargeError, Problem
from advisor.knowledge.checking import Grade, grade
from advisor.knowledge.checking_tables import grade_tables
from advisor.knowledge.documents import Schematic
from advisor.knowledge.loading import circuit_model, load_network
from advisor.knowledge.reader import read_any
from advisor.knowledge.roles import Roles
from advisor.knowledge.shipped import shipped
from advisor.knowledge.solving import processors
from advisor.knowledge.table_model import table_model
from advisor.knowledge.tables import Tables
from advisor.network.worlds import NONE, SPECIALS

ROUNDING = 1e-6
"""A cause starts a symptom of a network if it makes it likelier by more."""
SHOWN = 6
"""Lines of each kind; JSON has all."""


@dataclass(frozen=True)
class Checked:
    """One file: where it is, what is wrong with it, seconds of each stage of compiling, what its tests can do."""

    path: Path
    grade: Grade
    seconds: Mapping[str, float] = field(default_factory=dict)
    testability: Testability | None = None


def check_file(path: Path) -> Checked:
    """Read one model file and, if advice can be given on it, hold it against its own statements."""
    try:
        document = read_any(path)
        if isinstance(document, Schematic):
            return _circuit(path, document)
        if isinstance(document, Roles):
            return _network(path, document)
        return _table(path, document) if isinstance(document, Tables) else Checked(path, Grade((), {}))
    except KnowledgeError as error:
        return Checked(path, Grade(error.problems, {}))
    except (CircuitError, NetworkTooLargeError) as error:
        return Checked(path, Grade((Problem(str(path), 1, 1, str(error)),), {}))


def _circuit(path: Path, schematic: Schematic) -> Checked:
    model = circuit_model(schematic, cache_folder(), workers=processors(), progress=progress_bar())
    return Checked(path, grade(model.wiring, model.compiled), model.compiled.seconds, testability(model))


def _table(path: Path, tables: Tables) -> Checked:
    model = table_model(tables)
    return Checked(path, grade_tables(tables, model), model.compiled.seconds, testability(model))


def _network(path: Path, roles: Roles) -> Checked:
    model = load_network(roles, cache_folder())
    causes, singles = model.compiled.causes, slice(SPECIALS, SPECIALS + len(model.compiled.causes))
    more = model.compiled.presence[singles] > model.compiled.presence[NONE] + ROUNDING
    started = {
        symptom: tuple(cause for cause, starts in zip(causes, column, strict=True) if starts)
        for symptom, column in zip(roles.symptoms, more.T, strict=True)
    }
    return Checked(path, Grade((), started), model.compiled.seconds, testability(model))


def _model_files(paths: Sequence[str]) -> list[Path]:
    """The files named, folders searched for YAML files; all shipped ones if none is named."""
    roots = [Path(path) for path in paths] or [shipped("models")]
    missing = [str(root) for root in roots if not root.exists()]
    if missing:
        raise click.UsageError(f"no such file or folder: {', '.join(missing)}")
    found = [[root] if root.is_file() else sorted(root.rglob("*.yaml")) for root in roots]
    return [file for files in found for file in files]


@click.command()
@click.argument("paths", nargs=-1)
@click.option("--json", "as_json", is_flag=True, help="Print JSON only.")
@click.pass_context
def check(context: click.Context, paths: tuple[str, ...], as_json: bool) -> None:
    """Grade model files: addresses of mistakes, normal behaviour, symptoms that cannot happen, causes not told apart.

    PATHS are files or folders; without any, the shipped models are checked.  Shares are of the failure rate of single
    faults in a usual vehicle.  Exit code 1 says that something was found.
    """
    try:
        checked = [check_file(path) for path in _model_files(paths)]
    except AdvisorError as error:
        raise click.UsageError(str(error)) from error
    if as_json:
        click.echo(json.dumps([_plain(c) for c in checked], indent=2))
    else:
        _show(checked)
    context.exit(1 if any(c.grade.problems for c in checked) else 0)


def _plain(checked: Checked) -> dict[str, object]:
    problems = [asdict(problem) for problem in checked.grade.problems]
    return {
        "path": str(checked.path),
        "problems": problems,
        "symptom_causes": dict(checked.grade.symptom_causes),
        "compile_seconds": dict(checked.seconds),
        "testability": asdict(checked.testability) if checked.testability else None,
    }


def _show(checked: Sequence[Checked]) -> None:
    console = Console(soft_wrap=True)
    for one in checked:
        for problem in one.grade.problems:
            console.print(str(problem), markup=False, highlight=False)
        if not one.grade.problems:
            console.print(f"{one.path}: good", markup=False, highlight=False)
        if one.grade.symptom_causes:
            table = Table("symptom", "started by")
            for symptom, causes in one.grade.symptom_causes.items():
                table.add_row(symptom, ", ".join(causes))
            console.print(table)
            if one.testability:
                _show_tests(console, one.testability)
            stages = ", ".join(f"{stage} {seconds:.2f}" for stage, seconds in one.seconds.items())
            console.print(f"compiled in {sum(one.seconds.values()):.2f} s: {stages}", highlight=False)


def _show_tests(console: Console, found: Testability) -> None:
    """What the tests see and tell apart, and what they do not."""
    one, two, _ = found.isolated
    lines = [
        f"faults seen by some test: {found.detected:.1%} of the failure rate; of these one repair is left for "
        f"{one:.1%}, at most two for {two:.1%}; {found.tests} tests tell all that can be told, "
        f"{found.minutes:.0f} min with access",
    ]
    for unseen in found.undetected[:SHOWN]:
        why = f"shows {', '.join(unseen.symptoms)}" if unseen.symptoms else "starts no symptom on its own"
        lines.append(f"  not seen: {unseen.cause} ({unseen.share:.1%}), {why}")
    for group in found.groups[:SHOWN]:
        lines.append(f"  not told apart ({group.share:.1%}): {'; '.join(group.repairs)}")
    if found.extra:
        lines.append(
            f"  a probe point at {found.extra.node} would tell {found.extra.share:.0%} of the first of these "
            f"({found.extra.condition})"
        )
    console.print("\n".join(lines), markup=False, highlight=False)
