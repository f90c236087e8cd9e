"""What is answered about cases, as types."""

from __future__ import annotations

from datetime import datetime

from pydantic import Field, JsonValue

from advisor.contract.answer import AdviceAnswer, Release
from advisor.contract.case_bodies import CaseVehicle, Closed, Note, PutOn, Repair, WorkDeclined, Worked
from advisor.contract.event import Event
from advisor.contract.frozen import Answered
from advisor.contract.request import CostsIn


class EventOut(Answered):
    """One event of the journal; `retracted` where it does not count any more, by a retraction or a newer answer."""

    v: int
    seq: int
    at: datetime
    by: str
    kind: str
    body: dict[str, JsonValue]
    retracted: bool = False


def event_out(event: Event, retracted: frozenset[int] = frozenset()) -> EventOut:
    """Give one event, saying whether it still counts."""
    return EventOut(
        v=event.v,
        seq=event.seq,
        at=event.at,
        by=event.by,
        kind=event.kind,
        body=dict(event.body),
        retracted=event.seq in retracted,
    )


class FoundOut(Answered):
    """A finding that counts, and the event that told it."""

    seq: int
    finding: dict[str, JsonValue]


class MendedOut(Answered):
    """A repair that counts, and the event that told it."""

    seq: int
    repair: Repair


class StretchOut(Answered):
    """Findings between two repairs, and the repair that ended them; null in the last stretch."""

    findings: tuple[FoundOut, ...]
    repair_after: MendedOut | None


class AmountOut(Answered):
    """What the customer has authorised in all, or what was spent: time [min] and money; null where nothing was said."""

    minutes: float | None
    money: float | None


class ClosingOut(Answered):
    """How the case ended; flagged where its cause, or the cause of that, is not known."""

    at: datetime
    how: Closed
    may_come_back: bool


class CaseOut(Answered):
    """A case as its journal tells it.

    `version` is the seq of the last event and the case's ETag. `release` is what the case was opened with, or moved to,
    `release_now` what a case opened today would keep to, null where the circuit cannot be loaded. `put_on` is what must
    come off before the case can close.
    """

    id: str
    version: int
    state: str
    circuit: str
    reference: str | None
    vehicle: CaseVehicle
    symptom: str | None
    words: str | None
    identity: str | None
    costs: CostsIn
    opened_at: datetime
    changed_at: datetime
    release: Release
    release_now: Release | None
    release_changed: bool
    stretches: tuple[StretchOut, ...]
    places_opened: tuple[str, ...]
    put_on: tuple[PutOn, ...]
    authorised: AmountOut
    spent: AmountOut
    work_declined: tuple[WorkDeclined, ...]
    worked: tuple[Worked, ...]
    notes: tuple[Note, ...]
    not_fit_until: str | None
    closing: ClosingOut | None
    comeback_of: str | None
    events: tuple[EventOut, ...]


class CaseLine(Answered):
    """A case in a list."""

    id: str
    version: int
    state: str
    circuit: str
    reference: str | None
    opened_at: datetime
    changed_at: datetime


class CaseList(Answered):
    """Cases, newest first; `next` is the cursor of the next page, null on the last."""

    cases: tuple[CaseLine, ...]
    next: str | None


class CaseAdvice(Answered):
    """Advice on a case at a version, beside what must be seen with it."""

    case: str
    version: int
    release: Release
    release_changed: bool = Field(description="whether the advice comes from another release than the case keeps to")
    not_fit_until: str | None
    put_on: tuple[PutOn, ...]
    authorised: AmountOut
    spent: AmountOut
    advice: AdviceAnswer
