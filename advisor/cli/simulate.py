"""`advisor simulate`: what one circuit does under chosen settings and faults."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

import click
from rich.console import Console
from rich.table import Table

from advisor.circuit.spice import deck
from advisor.errors import UsageError
from advisor.knowledge.documents import Schematic
from advisor.knowledge.loading import find
from advisor.knowledge.reader import read_model
from advisor.knowledge.roles import Roles
from advisor.knowledge.simulation import Scene, Shown, Simulation
from advisor.knowledge.simulation import simulate as solve_scene
from advisor.knowledge.tables import Tables

_NEXT_TO_NOTHING_AMPS = 1e-6


@click.command()
@click.argument("circuit")
@click.option("--set", "settings", multiple=True, metavar="CONTROL=VALUE", help="What a control is set to.")
@click.option("--fault", "faults", multiple=True, metavar="PART/MODE[@OHMS]", help="A fault to put in.")
@click.option("--unplug", multiple=True, metavar="CONNECTOR", help="A connector that is apart.")
@click.option("--jumper", metavar="A:B", help="Two nodes that a fused jumper joins.")
@click.option("--test", metavar="TEST", help="A generated test: its setup, and what it would read.")
@click.option("--spice", type=click.Path(dir_okay=False, path_type=Path), help="Also write the state as a SPICE deck.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of tables.")
def simulate(  # noqa: PLR0913, PLR0917  one argument per option
    circuit: str,
    settings: tuple[str, ...],
    faults: tuple[str, ...],
    unplug: tuple[str, ...],
    jumper: str | None,
    test: str | None,
    spice: Path | None,
    as_json: bool,
) -> None:
    """Solve CIRCUIT (a shipped circuit's id, or a file) and print voltages, currents and what each load does."""
    schematic = _drawn(circuit)
    simulation = solve_scene(schematic, Scene(_pairs(settings), faults, unplug, _ends(jumper), test))
    if spice is not None:
        _write(spice, deck(simulation.solution, 0, _title(schematic, simulation)))
    if as_json:
        click.echo(json.dumps(_document(schematic, simulation), indent=2, allow_nan=False))
    else:
        _print(schematic, simulation)


def _drawn(circuit: str) -> Schematic:
    document = read_model(find(circuit))
    if isinstance(document, Tables | Roles):
        kind = "tables" if isinstance(document, Tables) else "a network"
        raise UsageError(f"{circuit} is a model of {kind}: there is no circuit to solve or to write as a SPICE deck")
    return document


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="ascii")
    except OSError as error:
        raise UsageError(f"cannot write {str(path)!r}: {error.strerror}") from error


def _pairs(settings: Iterable[str]) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for text in settings:
        name, equals, value = text.partition("=")
        if not equals:
            raise UsageError(f"--set takes CONTROL=VALUE, not {text!r}")
        if pairs.get(name, value) != value:
            raise UsageError(f"--set gives {name!r} two values, {pairs[name]!r} and {value!r}")
        pairs[name] = value
    return pairs


def _ends(jumper: str | None) -> tuple[str, str] | None:
    if jumper is None:
        return None
    first, colon, second = jumper.partition(":")
    if not colon:
        raise UsageError(f"--jumper takes two nodes A:B, not {jumper!r}")
    return first, second


def _title(schematic: Schematic, simulation: Simulation) -> str:
    setup = simulation.setup
    return "\n".join(
        [
            f"{schematic.title} ({schematic.id}) of the {schematic.vehicle_title}",
            "invented vehicle and circuit: every value is made up for a demonstration",
            f"faults: {', '.join(simulation.faults) or 'none'}",
            f"unplugged: {', '.join(setup.unplug) or 'none'}; jumper: {' to '.join(setup.jumper or ()) or 'none'}",
        ]
    )


def _document(schematic: Schematic, simulation: Simulation) -> Mapping[str, object]:
    return {
        "circuit": schematic.id,
        "settings": dict(simulation.setup.settings),
        "unplug": list(simulation.setup.unplug),
        "jumper": list(simulation.setup.jumper) if simulation.setup.jumper else None,
        "faults": list(simulation.faults),
        "nodes": simulation.nodes,
        "currents": simulation.currents,
        "loads": {
            name: {"volts": load.volts, "amps": load.amps, "share": load.share, "look": load.look}
            for name, load in simulation.loads.items()
        },
        "drivers": dict(simulation.drivers),
        "unsteady": bool(simulation.solution.unsteady[0]),
        "blown_fuses": list(simulation.blown_fuses),
        "test": None if simulation.shown is None else _test_document(simulation.shown),
    }


def _test_document(shown: Shown) -> Mapping[str, object]:
    return {
        "test": shown.test.id,
        "title": shown.test.title,
        "value": shown.value,
        "spread": shown.spread,
        "unit": shown.test.unit,
        "normal_value": shown.test.normal_value,
        "outcome": shown.outcome.id,
        "label": shown.outcome.label,
    }


def _print(schematic: Schematic, simulation: Simulation) -> None:
    console = Console(highlight=False, markup=False)
    setup = simulation.setup
    console.print(f"{schematic.title}, {schematic.vehicle_title}")
    console.print("set: " + ", ".join(f"{name} = {value}" for name, value in setup.settings.items()))
    console.print(f"faults: {', '.join(simulation.faults) or 'none'}")
    if setup.unplug or setup.jumper:
        console.print(f"unplugged: {', '.join(setup.unplug) or 'none'}; jumper: {' to '.join(setup.jumper or ())}")
    flowing = {id: amps for id, amps in simulation.currents.items() if abs(amps) > _NEXT_TO_NOTHING_AMPS}
    console.print(_table("Nodes", ("node", "V"), [(n, f"{v:.3f}") for n, v in simulation.nodes.items()]))
    console.print(_table("Currents", ("element", "A"), [(e, f"{a:.4g}") for e, a in flowing.items()]))
    loads = [
        (name, f"{x.volts:.2f}", f"{x.amps:.3f}", f"{x.share:.0%}", x.look) for name, x in simulation.loads.items()
    ]
    console.print(_table("Loads", ("load", "V", "A", "light or speed", "looks"), loads))
    for driver, on in simulation.drivers.items():
        console.print(f"output {driver}: {'on' if on else 'off'}")
    if simulation.solution.unsteady[0]:
        console.print("unsteady: a unit keeps switching on and off; shown with its output off")
    console.print(f"blown fuses: {', '.join(simulation.blown_fuses) or 'none'}")
    if simulation.shown is not None:
        shown = simulation.shown
        of = _OF.get(shown.test.observed.kind, "usual power")
        unit = shown.test.unit
        value = f"{shown.value:.4g} {unit}" if unit else f"{shown.value:.0%} of {of}"
        console.print(f"{shown.test.title}: {value} ({shown.outcome.label})")


_OF = {"motor": "rated speed", "lamp": "normal light", "": ""}
"""What a share is a share of, by the kind of the load."""


def _table(title: str, columns: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> Table:
    table = Table(title=title, title_justify="left")
    for index, column in enumerate(columns):
        table.add_column(column, justify="left" if index == 0 else "right", overflow="fold")
    for row in rows:
        table.add_row(*row)
    return table
