"""Findings as values: what a person reported or measured."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SymptomFinding:
    """A symptom that the customer reports, or says is absent."""

    symptom: str
    present: bool = True


@dataclass(frozen=True)
class OutcomeFinding:
    """A test came out in one of its named outcomes."""

    test: str
    outcome: str


@dataclass(frozen=True)
class ReadingFinding:
    """An instrument showed a value [V, or share of nominal light]; None means over range."""

    test: str
    value: float | None


Finding = SymptomFinding | OutcomeFinding | ReadingFinding
