"""Load a circuit by id or path: read the files, find or make the compiled arrays, join them to a model."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

from advisor.errors import UnknownModelError
from advisor.knowledge import cache
from advisor.knowledge.compiling import HYPOTHESES, compile_schematic
from advisor.knowledge.converted import converted, network_file
from advisor.knowledge.documents import Schematic
from advisor.knowledge.model import Model
from advisor.knowledge.network_model import NetworkModel, network_model
from advisor.knowledge.notes import suggestion
from advisor.knowledge.reader import read_model
from advisor.knowledge.roles import Roles
from advisor.knowledge.shipped import shipped_models
from advisor.knowledge.solving import Progress, silent
from advisor.knowledge.table_model import table_model
from advisor.knowledge.tables import Tables
from advisor.knowledge.wiring import wire_up


def find(id_or_path: str | Path) -> Path:
    """The file of a shipped circuit's id, or of a path that exists.

    Raises:
        UnknownModelError: neither.
    """
    shipped = shipped_models()
    if str(id_or_path) in shipped:
        return shipped[str(id_or_path)]
    path = Path(id_or_path)
    if path.is_file():
        return path
    hint = suggestion(str(id_or_path), shipped)
    raise UnknownModelError(f"no circuit {str(id_or_path)!r}, expected a file or the id of a shipped circuit: {hint}")


def load_model(
    id_or_path: str | Path,
    folder: Path | None,
    hypotheses: int = HYPOTHESES,
    *,
    workers: int = 1,
    progress: Progress = silent,
) -> Model:
    """Read and compile a circuit, or take it from the cache in `folder` (None: no cache); tables need no cache.

    `workers` and `progress` are those of `compile_schematic`.

    Raises:
        UnknownModelError: no such circuit.
        KnowledgeError: the files are wrong.
        CircuitError: the circuit cannot be solved.
    """
    document = read_model(find(id_or_path))
    if isinstance(document, Tables):
        return table_model(document, hypotheses)
    if isinstance(document, Roles):
        return load_network(document, folder, hypotheses)
    return circuit_model(document, folder, hypotheses, workers=workers, progress=progress)


def load_network(roles: Roles, folder: Path | None, hypotheses: int = HYPOTHESES) -> NetworkModel:
    """Make a model of a roles file that has been read, its network converted or taken from the cache in `folder`.

    Raises:
        KnowledgeError: there is no such network, it is wrong, or it does not have what the roles name.
        NetworkTooLargeError: it is too large.
    """
    file = network_file(roles.file, roles.file_at)
    schematic = replace(roles.schematic, files=(*roles.schematic.files, str(file.resolve())))
    return network_model(replace(roles, schematic=schematic), converted(file, folder), hypotheses)


def circuit_model(
    schematic: Schematic,
    folder: Path | None,
    hypotheses: int = HYPOTHESES,
    *,
    workers: int = 1,
    progress: Progress = silent,
) -> Model:
    """The same of a circuit that has been read; raises CircuitError."""
    knowledge = cache.content_hash(schematic.files)
    key = _key(schematic, knowledge, hypotheses)
    compiled = cache.fetch(folder, key) if folder is not None else None
    if compiled is None:
        compiled = compile_schematic(schematic, hypotheses, workers=workers, progress=progress)
        if folder is not None:
            cache.keep(folder, key, compiled)
    return Model(schematic, wire_up(schematic), compiled, knowledge)


def _key(schematic: Schematic, knowledge: str, hypotheses: int) -> str:
    text = "\n".join([schematic.id, knowledge, cache.SOURCES, str(hypotheses)])
    return hashlib.sha256(text.encode()).hexdigest()
