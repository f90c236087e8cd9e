"""What the test of a finding would show under one hypothesis, as a person would read it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.model import Model
from advisor.network.findings import Finding, OutcomeFinding, ReadingFinding, SymptomFinding

Floats = NDArray[np.float64]


def shown(model: Model, finding: Finding, hypothesis: int, states: Floats) -> float | None:
    """What is predicted where a finding was made.

    Args:
        model: The circuit.
        finding: Which symptom or test; what came out has no part in it.
        hypothesis: Its row.
        states: Distribution of the shared states, shape (G,), by whose median supply readings are scaled.

    Returns:
        A reading [V, A, ohm], infinite for over range, None where it never settles or nothing is read; a share of full
        light or speed; the chance of damage or of the symptom.
    """
    if isinstance(finding, SymptomFinding):
        return float(model.worlds.presence[hypothesis, model.worlds.symptoms.index(finding.symptom)])
    if not isinstance(finding, OutcomeFinding | ReadingFinding):
        return None
    return model.predicted[finding.test].shown(hypothesis, *model.axis.middle(states))
