"""A case as its answer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from advisor.cases.state import CaseState, Closing, Found, Stretch
from advisor.contract.answer import Release
from advisor.contract.case_answer import (
    AmountOut,
    CaseLine,
    CaseList,
    CaseOut,
    ClosingOut,
    FoundOut,
    MendedOut,
    StretchOut,
    event_out,
)
from advisor.contract.case_bodies import Authorised, Spent
from advisor.contract.event import Event
from advisor.store.records import CaseRow, Page


def present(case: str, events: Sequence[Event], state: CaseState, now: Release | None) -> CaseOut:
    """Give a case with its whole journal; `now` is the release that would advise today."""
    opened = state.opened
    return CaseOut(
        id=case,
        version=state.version,
        state=state.status,
        circuit=opened.circuit,
        reference=opened.reference,
        vehicle=opened.vehicle,
        symptom=opened.symptom,
        words=opened.words,
        identity=opened.identity,
        costs=opened.costs,
        opened_at=state.opened_at,
        changed_at=state.changed_at,
        release=state.release,
        release_now=now,
        release_changed=now != state.release,
        stretches=tuple(_stretch(stretch) for stretch in state.stretches),
        places_opened=state.places,
        put_on=tuple(state.put_on.values()),
        authorised=amount(state.authorised),
        spent=amount(state.spent),
        work_declined=state.work_declined,
        worked=state.worked,
        notes=state.notes,
        not_fit_until=state.not_fit_until,
        closing=_closing(state.closing) if state.closing else None,
        comeback_of=state.comeback_of,
        events=tuple(event_out(event, state.retracted) for event in events),
    )


def present_list(page: Page) -> CaseList:
    """Give a page of a list."""
    return CaseList(
        cases=tuple(_line(row) for row in page.rows), next=None if page.before is None else str(page.before)
    )


def _line(row: CaseRow) -> CaseLine:
    return CaseLine(**{name: getattr(row, name) for name in CaseLine.model_fields})


def _stretch(stretch: Stretch) -> StretchOut:
    mended = stretch.repair_after
    return StretchOut(
        findings=tuple(_found(found) for found in stretch.findings),
        repair_after=MendedOut(seq=mended.seq, repair=mended.repair) if mended else None,
    )


def _found(found: Found) -> FoundOut:
    return FoundOut(seq=found.seq, finding=found.finding.model_dump(mode="json", exclude_none=True))


def amount(items: Sequence[Authorised] | Sequence[Spent]) -> AmountOut:
    """Add up what the customer has authorised, or what was spent."""
    return AmountOut(minutes=_total(item.minutes for item in items), money=_total(item.money for item in items))


def _total(amounts: Iterable[float | None]) -> float | None:
    said = [amount for amount in amounts if amount is not None]
    return sum(said) if said else None


def _closing(closing: Closing) -> ClosingOut:
    unsure = closing.body.cause_of_cause is None or closing.body.cause_status != "confirmed"
    return ClosingOut(at=closing.at, how=closing.body, may_come_back=unsure)
