"""Grade a table file: its symptoms can happen, its tests tell something, every cause is told from every other.

Missing outcomes and chances that do not sum are found when the file is read.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from advisor.errors import Problem
from advisor.knowledge.checking import Grade
from advisor.knowledge.documents import Address
from advisor.knowledge.table_model import TableModel
from advisor.knowledge.tables import Chances, Tables
from advisor.network.worlds import NONE, SPECIALS

Floats = NDArray[np.float64]

ALIKE = 0.05
"""Chances that differ by no more than this tell nothing: judgement, no source."""


def grade_tables(tables: Tables, model: TableModel) -> Grade:
    """Check a table against itself."""
    problems = [*_idle_symptoms(tables), *_idle_tests(tables, model), *_alike(tables, model)]
    started = {name: _likeliest_first(row.given) for name, row in tables.symptoms.items()}
    return Grade(tuple(problems), started)


def _likeliest_first(given: Chances) -> tuple[str, ...]:
    return tuple(sorted((cause for cause, chance in given.items() if chance > 0.0), key=lambda cause: -given[cause]))


def _problem(at: Address, message: str) -> Problem:
    return Problem(at.file, at.line, at.column, message)


def _idle_symptoms(tables: Tables) -> Iterator[Problem]:
    for name, row in tables.symptoms.items():
        if not any(row.given.values()):
            yield _problem(row.symptom.at, f"no cause of this table gives the symptom {name}: add it to `given`")


def _idle_tests(tables: Tables, model: TableModel) -> Iterator[Problem]:
    for name, test in tables.tests.items():
        shown = _singles(model.chances[name], model)
        if np.abs(shown - shown[0]).max() <= ALIKE:
            yield _problem(test.at, f"no cause changes what {name} shows by more than {ALIKE:g}: it tells nothing")


def _alike(tables: Tables, model: TableModel) -> Iterator[Problem]:
    """Causes that look like a sound vehicle, and pairs that need different repairs and look like each other."""
    everything = [_singles(block, model) for block in (*model.chances.values(), model.compiled.presence)]
    shown = np.concatenate(everything, axis=1)
    causes, repair = model.wiring.causes, _repair_of(model)
    for i, cause in enumerate(causes):
        if np.abs(shown[i + 1] - shown[0]).max() <= ALIKE:
            yield _problem(tables.parts[cause.part].at, f"no symptom and no test shows {cause.id}")
    for i, j in combinations(range(len(causes)), 2):
        one, other = causes[i].id, causes[j].id
        if repair[one] != repair[other] and np.abs(shown[i + 1] - shown[j + 1]).max() <= ALIKE:
            yield _problem(
                tables.parts[causes[j].part].at, f"nothing tells {other} from {one}, and their repairs differ"
            )


def _singles(block: Floats, model: TableModel) -> Floats:
    """The rows of the sound vehicle and of each cause alone, shape (C + 1, columns)."""
    return block[[NONE, *range(SPECIALS, SPECIALS + len(model.compiled.causes))]]


def _repair_of(model: TableModel) -> dict[str, str]:
    """What cures each cause: a written repair, else the one of its part."""
    own = {cause.id: cause.part for cause in model.wiring.causes}
    return own | {cause: repair.id for repair in model.schematic.repairs.values() for cause in repair.restores}
