"""The engine that a command runs on: the one handed in, or the one over the shipped circuits."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from advisor.contract.engine import Engine


def engine_of(context: click.Context) -> Engine:
    """Give the engine of a command."""
    if isinstance(context.obj, Engine):
        return context.obj
    # The whole domain, and only when a command needs it.
    from advisor.cli.progress import progress_bar  # noqa: PLC0415
    from advisor.engine import shipped_engine  # noqa: PLC0415
    from advisor.knowledge.solving import processors  # noqa: PLC0415

    return shipped_engine(workers=processors(), progress=progress_bar())


def with_file(engine: Engine, circuit: str) -> tuple[Engine, str]:
    """Give the engine and the id for a circuit that may be named by the path of its file."""
    path = Path(circuit)
    if circuit in engine.circuits() or not (path.suffix in (".yaml", ".yml") or len(path.parts) > 1):
        return engine, circuit
    model = engine.load(circuit)
    return replace(engine, circuits=lambda: {model.schematic.id: path}, load=lambda _: model), model.schematic.id
