"""What the test of a finding would show under one hypothesis, as a person would read it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.model import Model
from advisor.knowledge.predicted import Predicted
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding

Floats = NDArray[np.float64]

RESTLESS = 0.5
"""Chance of jumping about from which a reading is predicted never to settle: judgement, no source."""


def shown(
    model: Model, finding: SymptomFinding | OutcomeFinding | ReadingFinding, hypothesis: int, states: Floats
) -> float | None:
    """What is predicted where a finding was made.

    Args:
        model: The circuit.
        finding: Which symptom or test; what came out has no part in it.
        hypothesis: Its row.
        states: Distribution of the shared states, shape (G,), by whose median supply readings are scaled.

    Returns:
        A reading [V, A, ohm], infinite for over range, None where it never settles; a share of full light or speed;
        the chance of damage or of the symptom.
    """
    if isinstance(finding, SymptomFinding):
        return float(model.worlds.presence[hypothesis, model.worlds.symptoms.index(finding.symptom)])
    predicted = model.predicted[finding.test]
    row = int(predicted.row[hypothesis])
    if predicted.jumps[row] >= RESTLESS:
        return None
    if not predicted.slips:
        return float(predicted.value[row])
    return _read(predicted, float(predicted.at(*(np.array([s]) for s in model.axis.middle(states)))[0][row, 0]))


def _read(predicted: Predicted, value: float) -> float:
    """A predicted value as it is read: ohms are predicted in decades."""
    if not predicted.tool.logarithmic:
        return value
    ohms: float = 10.0**value
    return float("inf") if ohms >= (predicted.tool.range or np.inf) else ohms
