"""Findings as values: what a person reported or measured."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.network.proving import Result


@dataclass(frozen=True)
class SymptomFinding:
    """A symptom that the customer reports, or says is absent; whether it comes and goes, None where nobody asked."""

    symptom: str
    present: bool = True
    comes_and_goes: bool | None = None


@dataclass(frozen=True)
class OutcomeFinding:
    """A test came out in one of its named outcomes, some minutes into the case if that is known."""

    test: str
    outcome: str
    minute: float | None = None


@dataclass(frozen=True)
class ReadingFinding:
    """An instrument showed a value [V, A, ohm], None means over range, some minutes into the case if that is known."""

    test: str
    value: float | None
    minute: float | None = None


@dataclass(frozen=True)
class DeclinedFinding:
    """A test that cannot be done or whose answer is not sure: no evidence, only not proposed again."""

    test: str


@dataclass(frozen=True)
class RepairFinding:
    """A repair was done, and the complaint looked for afterwards, if it was; findings after it are of what is left.

    The complaint is the first symptom reported unless one is named.
    """

    repair: str
    result: Result | None = None
    symptom: str | None = None


Finding = SymptomFinding | OutcomeFinding | ReadingFinding | DeclinedFinding | RepairFinding
