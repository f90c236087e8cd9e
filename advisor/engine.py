"""The package's own edge: where the cache lies, which circuits are shipped, load and advise in one call each."""

from __future__ import annotations

import ctypes
import os
import sys
import threading
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from advisor.contract.answer import AdviceAnswer
from advisor.contract.body import Json
from advisor.contract.engine import Engine
from advisor.contract.service import advise as answer_request
from advisor.contract.service import parse_request
from advisor.decision.advice import Advice
from advisor.decision.advise import decide
from advisor.knowledge.cache import content_hash
from advisor.knowledge.keeping import bare, is_bare
from advisor.knowledge.loading import load_model
from advisor.knowledge.model import Model
from advisor.knowledge.reader import read_model
from advisor.knowledge.roles import Roles
from advisor.knowledge.shipped import shipped_models
from advisor.knowledge.solving import Progress, silent
from advisor.knowledge.tables import Tables
from advisor.network.findings import Finding

CACHE_VARIABLE = "ADVISOR_CACHE"
"""Environment variable that names the cache folder; set but empty, nothing is cached."""
KEEP = 4
"""Circuits of which a long-running process keeps what it has worked out."""


def cache_folder() -> Path | None:
    """Where compiled circuits are kept: ADVISOR_CACHE, or the user's cache folder."""
    named = os.environ.get(CACHE_VARIABLE)
    if named is not None:
        return Path(named) if named else None
    home = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA")
    return (Path(home) if home else Path.home() / ".cache") / "advisor"


def load(id_or_path: str | Path, *, workers: int = 1, progress: Progress = silent) -> Model:
    """Load a circuit by its id or by the path of its file.

    A large circuit is compiled by up to `workers` processes, which only a program whose main module can be imported
    without effects may ask for; `progress` is told how far the compile is.

    >>> load("belt-reminder").schematic.title
    'Belt reminder lamp'

    Raises:
        UnknownModelError: no such circuit.
        KnowledgeError: a file is wrong; every problem has its address.
        CircuitError: the circuit cannot be solved.
    """
    return load_model(id_or_path, cache_folder(), workers=workers, progress=progress)


def advise(model: Model, request: Mapping[str, Json]) -> AdviceAnswer:
    """Answer a request, given as JSON values, on a loaded circuit.

    >>> answer = advise(load("belt-reminder"), {"circuit": "belt-reminder", "findings": [{"symptom": "lamp-dim"}]})
    >>> answer.circuit
    'belt-reminder'

    Raises:
        RequestError: the request is wrong; every problem has its pointer.
        ImpossibleFindingsError: the findings cannot all be true.
    """
    shelf = Engine(lambda: {model.schematic.id: Path(model.schematic.files[0])}, lambda _: model, decide)
    return answer_request(model, parse_request(dict(request), shelf), decide)


class _Shelf:
    """Loaded circuits of a long-running process, loaded again when a file they came from has changed.

    What is worked out of a circuit, 10 to 20 MB, is kept for those that were decided on last.
    """

    def __init__(self, workers: int, progress: Progress, files: Mapping[str, Path]) -> None:
        self.workers, self.progress, self.files = workers, progress, files
        self.models: dict[str, Model] = {}
        self.last: list[str] = []
        self.loading: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)
        self.lock = threading.Lock()

    def load(self, id: str) -> Model:
        """The circuit as its files are now; who asks for another does not wait."""
        with self.lock:
            loading = self.loading[id]
        with loading:
            known = self.models.get(id)
            if known is None or content_hash(known.schematic.files) != known.knowledge:
                known = load(self.files.get(id, id), workers=self.workers, progress=self.progress)
                with self.lock:
                    self.models[id] = known
        return known

    def decide(self, model: Model, findings: Sequence[Finding], **options: Any) -> Advice:  # noqa: ANN401 # Any: as there
        """Decide as `advisor.decision.advise.decide` does, and let go of what was worked out of circuits out of use."""
        with self.lock:
            id = model.schematic.id
            self.last = [id, *(other for other in self.last if other != id)][:KEEP]
            unused = [other for other, each in self.models.items() if other not in self.last and not is_bare(each)]
            self.models.update({other: bare(self.models[other]) for other in unused})
        if unused:
            _give_back()
        return decide(model, findings, **options)


def _give_back() -> None:
    """Give memory that was freed back to the system; the allocator of Linux keeps it unless it is told."""
    if sys.platform == "linux":
        getattr(ctypes.CDLL(None), "malloc_trim", lambda _: None)(0)


def shipped_engine(*, workers: int = 1, progress: Progress = silent, files: Sequence[Path] = ()) -> Engine:
    """The shipped circuits, and model files beside them, behind the contract, for a command or a service; see `load`.

    Raises:
        KnowledgeError: one of the files is wrong.
    """
    named = {
        document.schematic.id if isinstance(document, Tables | Roles) else document.id: file
        for file in files
        for document in [read_model(file)]
    }
    shelf = _Shelf(workers, progress, named)
    return Engine(lambda: {**shipped_models(), **named}, shelf.load, shelf.decide)
