"""The command that writes a start file for a new circuit."""

from __future__ import annotations

import os
from importlib.resources import files
from pathlib import Path
from string import Template

import click

from advisor.errors import UsageError
from advisor.knowledge.kinds import ID
from advisor.knowledge.reader import read_vehicle

TEMPLATE = "templates/circuit.yaml"


@click.command()
@click.argument("circuit")
@click.option("--vehicle", type=click.Path(path_type=Path), required=True, help="The vehicle's file.")
@click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), help="File to write.")
def new(circuit: str, vehicle: Path, output: Path | None) -> None:
    """Write a commented start file for CIRCUIT that passes the check.

    It goes to the folder `circuits` beside the vehicle's file; a file that is there is not written over.
    """
    if not ID.fullmatch(circuit):
        raise UsageError(f"a circuit's id has letters, digits, + and -, not {circuit!r}")
    path = output or vehicle.parent / "circuits" / f"{circuit}.yaml"
    if path.exists():
        raise UsageError(f"{path} is there already")
    text = start_file(circuit, vehicle, path)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    click.echo(f"{path}\nNext: advisor check {path}")


def start_file(circuit: str, vehicle: Path, path: Path) -> str:
    """The start file's text, as it stands at `path`.

    Raises:
        KnowledgeError: The vehicle's file has problems.
    """
    read = read_vehicle(vehicle)
    return Template(files("advisor.cli").joinpath(TEMPLATE).read_text(encoding="utf-8")).substitute(
        circuit=circuit,
        title=circuit.replace("-", " ").capitalize(),
        vehicle=os.path.relpath(vehicle.resolve(), path.resolve().parent),
        vehicle_title=read.title,
        place=next(iter(read.places)),
        feed=read.live,
    )
