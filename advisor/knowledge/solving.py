"""Everything that the tests of a circuit show under many fault sets, solved in chunks, by one process or by several.

Chunks keep the memory of a solve small.  They end where a block of severities ends, so that neighbours in severity
stay together.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from multiprocessing import get_context

import numpy as np

from advisor.errors import CircuitError
from advisor.knowledge.catalogue import Test
from advisor.knowledge.documents import Schematic
from advisor.knowledge.hypotheses import FaultSets
from advisor.knowledge.predicting import Bools, Floats, Predictor, setups
from advisor.knowledge.wiring import wire_up

Progress = Callable[[str, int, int], None]
"""Told after each chunk: what is being solved, how many fault sets are done, of how many."""
_ROWS = 2048
_WORTH_PROCESSES = 20e6
"""Fault sets x setups x nodes from which on the start of other processes pays: some seconds of work."""


def silent(stage: str, done: int, total: int) -> None:
    """No progress is shown."""


@dataclass(frozen=True)
class Shown:
    """What tests and symptoms show: value, spread, jumps, jumper_amps (H, T), presence (H, S), latched (H, F).

    See `Compiled`.
    """

    value: Floats
    spread: Floats
    jumps: Floats
    presence: Floats
    jumper_amps: Floats
    latched: Bools


@dataclass(frozen=True)
class Solver:
    """Solves fault sets of one wiring.

    Attributes:
        predictor: Of the wiring.
        workers: Processes that may be used, this one if 1.
        progress: Told how far it is.
    """

    predictor: Predictor
    workers: int = 1
    progress: Progress = field(default=silent)

    def solve(self, stage: str, tests: Sequence[Test], sets: FaultSets) -> Shown:
        """Predict tests and symptoms under all fault sets.

        Raises:
            CircuitError: the circuit floats or its switching logic never settles.
        """
        chunks, results = sets.chunks(_ROWS), []
        work = len(sets) * len(setups(tests)) * len(self.predictor.wiring.netlist.nodes)
        many = min(self.workers, len(chunks)) if work > _WORTH_PROCESSES else 1
        for found, chunk in zip(self._solved(many, tests, chunks), chunks, strict=True):
            results.append(found or _shown(self.predictor, tests, chunk))
            self.progress(stage, sum(len(r.value) for r in results), len(sets))
        names = ("value", "spread", "jumps", "presence", "jumper_amps", "latched")
        return Shown(*(np.concatenate([getattr(r, name) for r in results]) for name in names))

    def _solved(self, many: int, tests: Sequence[Test], chunks: Sequence[FaultSets]) -> Iterable[Shown | None]:
        """The chunks in order; None for what other processes left to this one."""
        done = 0
        if many > 1:
            try:
                schematic = self.predictor.schematic
                with ProcessPoolExecutor(many, get_context("spawn"), _start, (schematic,)) as pool:
                    for found in pool.map(_attempt, [tests] * len(chunks), chunks):
                        yield found
                        done += 1
            except (BrokenProcessPool, OSError):
                pass  # no more processes here: the rest is done by this one
        yield from [None] * (len(chunks) - done)


def processors() -> int:
    """Processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _shown(predictor: Predictor, tests: Sequence[Test], sets: FaultSets) -> Shown:
    latched = predictor.latched(sets)
    presence = predictor.presence(sets, latched)  # this first, and the jumpers: what they solve serves tests too
    amps = predictor.jumper_amps(tests, sets, latched)
    seen = predictor.predict(tests, sets, latched)
    return Shown(seen.value, seen.spread, seen.jumps, presence, amps, latched)


_own: dict[str, Predictor] = {}
"""The predictor of a worker process."""


def _start(schematic: Schematic) -> None:
    """Make a worker ready: wires are laid once."""
    _own["predictor"] = Predictor(wire_up(schematic))


def _attempt(tests: Sequence[Test], sets: FaultSets) -> Shown | None:
    """One chunk in a worker; a circuit that cannot be solved is left to the process that can say so."""
    try:
        return _shown(_own["predictor"], tests, sets)
    except CircuitError:
        return None
