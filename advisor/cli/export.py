"""The command that writes a circuit's network for other programs."""

from __future__ import annotations

import json
from pathlib import Path

import click
import numpy as np

import advisor
from advisor.cli.asked import aged
from advisor.errors import UsageError
from advisor.knowledge.network_model import NetworkModel
from advisor.knowledge.prevalence import Vehicle
from advisor.network.bif import bif_text
from advisor.network.nodes import as_nodes, heaviest, names_map, restricted


@click.command()
@click.argument("circuit")
@click.option(
    "--format", "form", type=click.Choice(["bif"]), default="bif", show_default=True, help="Form of the file."
)
@click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), required=True, help="File to write.")
@aged
@click.option("--max-hypotheses", type=int, metavar="N", help="Write the likeliest N hypotheses only.")
@click.option(
    "--shared",
    is_flag=True,
    help="Write what findings share too: nine states of supply and black lead, and a lasting slip at each place.  "
    "The file grows about tenfold.",
)
def export(  # noqa: PLR0913, PLR0917  one argument per option
    circuit: str, form: str, output: Path, years: float, hours: float, max_hypotheses: int | None, shared: bool
) -> None:
    """Write the network of CIRCUIT, and what its names mean beside it.

    CIRCUIT is a circuit's id, or the path of its file.  The meanings go to OUTPUT.names.json.
    """
    assert form == "bif"  # the only choice so far
    model = advisor.load(circuit)
    if isinstance(model, NetworkModel):
        raise UsageError(f"{circuit} is a model of a network, which is a file of its own already: {model.roles.file}")
    worlds, prior = model.worlds, model.prior(Vehicle(years, hours))
    kept = np.arange(len(worlds.members))
    remarks = [f"{model.schematic.title}, a vehicle of {years:g} years and {hours:g} hours, priors {model.priors}"]
    if max_hypotheses is not None and max_hypotheses < len(worlds.members):
        try:
            kept = heaviest(worlds, prior, max_hypotheses)
        except ValueError as error:
            raise UsageError(f"--max-hypotheses {max_hypotheses}: {error}") from error
        remarks.append(f"the likeliest {len(kept)} of {len(worlds.members)} hypotheses")
    remarks.append(f"normalised over the hypotheses written; their prior mass is {prior.weights[kept].sum()!s}")
    network = model.network(prior, kept) if shared else as_nodes(*restricted(worlds, prior, kept), model.intake)
    names = output.with_name(f"{output.name}.names.json")
    _write(output, bif_text(network, title=model.schematic.id, remarks=remarks))
    _write(names, json.dumps(names_map(network), indent=1, ensure_ascii=False) + "\n")
    click.echo(
        f"{output}: {len(network.states)} hypotheses, {len(network.children)} nodes below them; names in {names}"
    )


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"cannot write {path}: {error.strerror}") from error
