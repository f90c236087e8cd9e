"""The shipped circuits, compiled small and once."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from advisor.engine import cache_folder
from advisor.knowledge.loading import load_model
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.shipped import shipped_circuits, shipped_models
from advisor.network.engine import Evidence
from advisor.network.findings import Finding, OutcomeFinding, SymptomFinding
from advisor.network.priors import Prior

SWEPT = ("belt-reminder", "blower", "reversing-lamps")
"""Circuits over which every law is run; of the others each family of tests takes its own drawn one."""
OTHERS = tuple(circuit for circuit in shipped_circuits() if circuit not in SWEPT)
CIRCUITS = tuple(shipped_circuits())
MODELS = tuple(shipped_models())
"""All of them, for what is cheap once they are compiled small."""
TABLES = tuple(model for model in shipped_models() if model not in shipped_circuits())


def drawn(family: str, count: int = 1) -> tuple[str, ...]:
    """The swept circuits and some of the others, drawn by the name of a family of tests, so that all have their turn.

    What runs over all of them is in `tests/bench`: twelve circuits in forty families would take an hour.
    """
    rng = np.random.default_rng(list(family.encode()))
    return (*SWEPT, *sorted(rng.choice(OTHERS, count, replace=False).tolist()))


def few(family: str, count: int = 2) -> tuple[str, ...]:
    """Some of all circuits, drawn by the name of a family of tests of which one takes half a minute."""
    rng = np.random.default_rng(list(family.encode()))
    return tuple(sorted(rng.choice(CIRCUITS, count, replace=False).tolist()))


HYPOTHESES = 600
"""Enough for every single cause and some pairs of each shipped circuit."""


@cache
def small_model(circuit: str) -> Model:
    """A shipped circuit with fewer pairs than usual."""
    return load_model(circuit, cache_folder(), HYPOTHESES)


@cache
def usual_prior(circuit: str) -> Prior:
    """The root distribution of a usual vehicle."""
    return small_model(circuit).prior(Vehicle())


def random_findings(circuit: str, seed: int, tests: int = 4) -> list[Finding]:
    """A case that some hypothesis would show: a complaint or two, and outcomes of tests drawn from it."""
    model, rng = small_model(circuit), np.random.default_rng(seed)
    worlds = model.worlds
    truth = int(rng.integers(len(worlds.members)))
    symptoms = rng.choice(worlds.symptoms, size=int(rng.integers(1, 3)), replace=False)
    findings: list[Finding] = [SymptomFinding(str(s), bool(rng.random() < 0.7)) for s in symptoms]
    for index in rng.choice(len(worlds.tests), size=int(rng.integers(tests + 1)), replace=False):
        row = worlds.likelihood[truth, worlds.columns[index]]
        outcome = worlds.outcomes[index][int(rng.choice(len(row), p=row / row.sum()))]
        findings.append(OutcomeFinding(worlds.tests[index], outcome))
    return findings


def apart(circuit: str, findings: Sequence[Finding]) -> list[Evidence]:
    """Symptoms and outcomes as the network without shared states takes them: independent, by its own tables."""
    model, root = small_model(circuit), usual_prior(circuit)
    symptoms = iter(model.evidence([f for f in findings if isinstance(f, SymptomFinding)], root))
    columns = model.worlds.column_of
    return [
        next(symptoms)
        if isinstance(f, SymptomFinding)
        else Evidence(model.worlds.likelihood[:, columns[f.test, f.outcome]], 1.0)
        for f in findings
    ]


def likelihoods(circuit: str, findings: Sequence[Finding]) -> list[np.ndarray]:
    """Each finding as a row of probabilities, independent of the others."""
    return [e.likelihood for e in apart(circuit, findings)]
