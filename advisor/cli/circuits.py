"""The command that lists circuits."""

from __future__ import annotations

import click
from rich.console import Console
from rich.table import Table

from advisor.cli.shelf import engine_of, with_file
from advisor.contract.listing import CircuitDetail, CircuitList, circuit_detail, circuit_list
from advisor.contract.service import known_model


@click.command()
@click.argument("circuit", metavar="[ID]", required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.pass_context
def circuits(context: click.Context, circuit: str | None, as_json: bool) -> None:
    """List the circuits, or what one of them holds."""
    engine = engine_of(context)
    if circuit is None:
        listed = circuit_list(engine.load(name).schematic for name in engine.circuits())
        return click.echo(listed.model_dump_json()) if as_json else _show_list(listed)
    engine, name = with_file(engine, circuit)
    detail = circuit_detail(known_model(name, engine))
    return click.echo(detail.model_dump_json()) if as_json else _show_detail(detail)


def _console() -> Console:
    # Ids and titles come from files: brackets in them are no markup.
    return Console(markup=False, highlight=False)


def _show_list(listed: CircuitList) -> None:
    table = _table("circuit", "title", "symptoms")
    for row in listed.circuits:
        table.add_row(row.id, row.title, "\n".join(symptom.id for symptom in row.symptoms))
    _console().print(table)


def _show_detail(detail: CircuitDetail) -> None:
    console = _console()
    console.print(f"{detail.id}: {detail.title}")
    symptoms = _table("symptom", "title")
    for symptom in detail.symptoms:
        symptoms.add_row(symptom.id, symptom.title)
    tests = _table("test", "outcomes")
    for test in detail.tests:
        named = f"{test.title} ({test.place.title})\n{test.id}"
        tests.add_row(named, ", ".join(item.id for item in test.outcomes))
    parts = _table("part", "title", "how it fails")
    for part in detail.parts:
        parts.add_row(part.id, part.title, ", ".join(part.modes))
    for table in (symptoms, tests, parts):
        console.print(table)
    for held in detail.withheld:
        console.print(f"not proposed: {held.title}: {held.reason}")


def _table(*columns: str) -> Table:
    table = Table(show_lines=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    return table
