"""Events as they are made: opening a case, adding to it, and what the domain refuses."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from advisor.cases.replay import RefusedEventError, replay
from advisor.cases.state import CaseState
from advisor.contract.answer import Release
from advisor.contract.body import Json, pointer
from advisor.contract.case_bodies import Opened
from advisor.contract.case_events import CaseIn, EventsIn
from advisor.contract.event import VERSION, Event
from advisor.contract.request import Strict
from advisor.errors import CaseStateError, RequestProblem

MAX_JOURNAL = 2000


def first_events(case: CaseIn, release: Release, at: datetime) -> tuple[Event, ...]:
    """Give the first events of a case: opened, and where it comes back from."""
    told = {name: getattr(case, name) for name in Opened.model_fields if name != "release"}
    opened = Event(VERSION, 1, at, case.by, "opened", _plain(Opened(**told, release=release)))
    if case.comeback_of is None:
        return (opened,)
    return opened, Event(VERSION, 2, at, case.by, "comeback", {"of": case.comeback_of})


def next_events(sent: EventsIn, journal: Sequence[Event], at: datetime) -> tuple[Event, ...]:
    """Give the events that a journal goes on with."""
    last = journal[-1].seq
    return tuple(
        Event(VERSION, last + place, at, sent.by, event.kind, _plain(event.body))
        for place, event in enumerate(sent.events, 1)
    )


def state_after(journal: Sequence[Event], added: Sequence[Event]) -> CaseState:
    """Give the state after events were added; raises CaseStateError that points at the event that cannot stand."""
    if len(journal) + len(added) > MAX_JOURNAL:
        raise CaseStateError([RequestProblem("#/events", f"a case has at most {MAX_JOURNAL} events")])
    try:
        return replay((*journal, *added))
    except RefusedEventError as refused:
        raise CaseStateError([_problem(refused, added)]) from refused


def _problem(refused: RefusedEventError, added: Sequence[Event]) -> RequestProblem:
    place = refused.seq - added[0].seq
    if place < 0:  # an older event cannot stand any more without one that is being retracted
        return RequestProblem(pointer("events"), f"event {refused.seq} would not stand: {refused.message}")
    where = f"/body{refused.where}" if refused.where else ""
    return RequestProblem(pointer("events", place) + where, refused.message)


def _plain(body: Strict) -> dict[str, Json]:
    return body.model_dump(mode="json", exclude_none=True)
