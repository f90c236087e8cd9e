"""Cases as the home page lists them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from advisor.contract import service
from advisor.contract.case_answer import CaseOut
from advisor.contract.engine import Engine, KnownModel
from advisor.errors import AdvisorError
from api.case_words import Names


@dataclass(frozen=True)
class CaseLine:
    """A case in the list: what it is about, whose, since when, and what is to be seen at once."""

    id: str
    title: str
    about: str
    marks: tuple[str, ...]
    at: datetime
    open: bool


def case_lines(cases: Iterable[CaseOut], engine: Engine) -> tuple[CaseLine, ...]:
    """Word the cases of a list."""
    names: dict[str, Names] = {}
    for case in (rows := tuple(cases)):
        names.setdefault(case.circuit, Names(_known(case.circuit, engine)))
    return tuple(_line(case, names[case.circuit]) for case in rows)


def _line(case: CaseOut, names: Names) -> CaseLine:
    complaint = names.symptom(case.symptom) if case.symptom else "no complaint noted yet"
    marks = [f"not fit for the road until {case.not_fit_until}"] if case.not_fit_until else []
    marks += [f"to put back: {', '.join(piece.id for piece in case.put_on)}"] if case.put_on else []
    marks += ["may come back: its cause is not known for sure"] if case.closing and case.closing.may_come_back else []
    about = " · ".join(text for text in (case.reference, case.identity, complaint) if text)
    title = names.circuit if names.model else case.circuit
    return CaseLine(case.id, title, about, tuple(marks), case.changed_at, case.closing is None)


def _known(circuit: str, engine: Engine) -> KnownModel | None:
    try:
        return service.known_model(circuit, engine)
    except AdvisorError:
        return None
