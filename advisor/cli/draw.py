"""The commands that draw: a circuit, and the face of a connector."""

from __future__ import annotations

from pathlib import Path

import click

from advisor.cli.shelf import engine_of, with_file
from advisor.contract import service
from advisor.contract.body import Json
from advisor.contract.engine import Engine
from advisor.drawing.circuit import circuit_svg
from advisor.drawing.face import SIDES, face, face_svg, face_text
from advisor.errors import UsageError
from advisor.knowledge.documents import Schematic

OUTPUT = click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), help="SVG file to write.")


@click.command()
@click.argument("circuit")
@click.option("--symptom", help="Tint what is suspected after this complaint.")
@OUTPUT
@click.pass_context
def draw(context: click.Context, circuit: str, symptom: str | None, output: Path | None) -> None:
    """Draw CIRCUIT as SVG: feed at the top, grounds at the bottom.

    CIRCUIT is a circuit's id, or the path of its file.
    """
    engine, name = with_file(engine_of(context), circuit)
    schematic = service.known_model(name, engine).schematic
    if not schematic.wires:
        raise UsageError(f"{name} is a table: nothing of it is drawn")
    drawn = circuit_svg(schematic, _shares(engine, name, symptom) if symptom else None)
    _hand_out(drawn, output)


@click.command(name="face")
@click.argument("connector")
@click.option("--circuit", help="Circuit that has the connector, or its file; all are looked through if left out.")
@click.option("--side", type=click.Choice(SIDES), default=SIDES[0], show_default=True, help="What one looks at.")
@click.option("--half", type=click.Choice(["a", "b"]), help="Half of an inline connector, a if left out.")
@click.option("--mark", metavar="CAVITY", help="Mark where to probe.")
@OUTPUT
@click.pass_context
def show_face(  # noqa: PLR0913, PLR0917  one argument per option
    context: click.Context,
    connector: str,
    circuit: str | None,
    side: str,
    half: str | None,
    mark: str | None,
    output: Path | None,
) -> None:
    """Show the face of CONNECTOR as a grid of cavities, or draw it as SVG with -o.

    Unused cavities have a point before their number, a marked one stands in brackets.
    """
    schematic = _holding(engine_of(context), connector, circuit)
    plug = schematic.connectors[connector]
    if mark is not None and mark not in plug.cavities:
        raise UsageError(f"{connector} has no cavity {mark!r}; it has {', '.join(plug.cavities)}")
    if half and not plug.inline:
        raise UsageError(f"{connector} has no halves: wires come to one side of it")
    seen = face(schematic, connector, side, {mark: "probe"} if mark else {}, half or "")
    if output is None:
        click.echo(face_text(seen))
    else:
        _hand_out(face_svg(seen), output)


def _holding(engine: Engine, connector: str, circuit: str | None) -> Schematic:
    """Give the circuit that has a connector: the named one, or the first of all."""
    if circuit is not None:
        engine, named = with_file(engine, circuit)
        names = [named]
    else:
        names = list(engine.circuits())
    found = [service.known_model(name, engine).schematic for name in names]
    holding = next((schematic for schematic in found if connector in schematic.connectors), None)
    if holding is None:
        known = sorted({name for schematic in found for name in schematic.connectors})
        raise UsageError(f"there is no connector {connector!r}; there is {', '.join(known)}")
    return holding


def _shares(engine: Engine, circuit: str, symptom: str) -> dict[str, float]:
    """Ask how likely each part is at fault after a complaint."""
    body: dict[str, Json] = {"circuit": circuit, "findings": [{"symptom": symptom}], "depth": 1}
    shares: dict[str, float] = {}
    request = service.parse_request(body, engine)
    for cause in service.advise(service.known_model(circuit, engine), request, engine.decide).causes:
        shares[cause.part] = shares.get(cause.part, 0.0) + cause.probability
    return shares


def _hand_out(drawn: str, output: Path | None) -> None:
    """Print a drawing, or write it to a file."""
    if output is None:
        click.echo(drawn)
        return
    try:
        output.write_text(f"{drawn}\n", encoding="utf-8")
    except OSError as error:
        raise UsageError(f"cannot write {output}: {error.strerror}") from error
    click.echo(f"{output}: written")
