"""From a journal to the state of its case: a pure fold over the events that count.

A case is open from its first event until `closed`, and again from `reopened`. An event that cannot stand where it
stands is refused when it is written, so a stored journal always replays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from advisor.cases.state import CaseState, Closing, Found, Mended, Stretch
from advisor.cases.upgrading import upgraded
from advisor.contract.case_bodies import Opened, Retraction
from advisor.contract.case_events import body_of
from advisor.contract.case_requests import finding_of
from advisor.contract.event import Event
from advisor.errors import AdvisorError

# What ends or begins a time of work is undone by its opposite, and what opened the case by nothing.
NEVER_RETRACTED = ("opened", "closed", "reopened")
ON_A_CLOSED_CASE = ("reopened", "note", "comeback")


class RefusedEventError(AdvisorError):
    """An event cannot stand where it stands; raised inside a replay and told by who wanted to add it."""

    def __init__(self, seq: int, where: str, message: str) -> None:
        self.seq, self.where, self.message = seq, where, message
        super().__init__(f"event {seq}{where}: {message}")


@dataclass(frozen=True)
class _Read:
    """An event with its body read."""

    event: Event
    body: Any  # the step of its kind knows its type


def replay(events: Sequence[Event]) -> CaseState:
    """Give the state that a journal tells; raises RefusedEventError, SchemaError or pydantic's ValidationError."""
    read = [_read(upgraded(event)) for event in events]
    gone = _retracted(read)
    state = _first(read[0])
    for item in read[1:]:
        if item.event.seq not in gone:
            state = _step(state, item)
        state = replace(state, version=item.event.seq, changed_at=item.event.at)
    replaced = {item.event.seq for item in read if item.event.kind in ("finding", "declined")}
    return replace(state, retracted=gone | (replaced - {found.seq for found in state.findings}))


def _read(event: Event) -> _Read:
    return _Read(event, body_of(event.kind, event.body))


def _retracted(read: Sequence[_Read]) -> frozenset[int]:
    """Give the events that do not count, each retraction being held against the journal before it."""
    for place, item in enumerate(read):
        if isinstance(item.body, Retraction):
            _check_retraction(item.event.seq, item.body.of, read[:place])
    return _gone(read)


def _gone(read: Sequence[_Read]) -> frozenset[int]:
    """Give the events that do not count; a retraction that is itself retracted retracts nothing."""
    gone: set[int] = set()
    for item in reversed(read):
        if isinstance(item.body, Retraction) and item.event.seq not in gone:
            gone.add(item.body.of)
    return frozenset(gone)


def _check_retraction(seq: int, of: int, before: Sequence[_Read]) -> None:
    kind = next((item.event.kind for item in before if item.event.seq == of), None)
    if kind is None:
        raise RefusedEventError(seq, "/of", f"there is no event {of} before this one")
    if kind in NEVER_RETRACTED:
        raise RefusedEventError(seq, "/of", f"event {of} is {kind}, which is not retracted")
    if of in _gone(before):
        raise RefusedEventError(seq, "/of", f"event {of} is retracted already")


def _first(item: _Read) -> CaseState:
    if not isinstance(item.body, Opened) or item.event.seq != 1:
        raise RefusedEventError(item.event.seq, "", "a journal begins with opened")
    found = finding_of(item.body)
    first = Stretch((Found(1, found),) if found else ())
    return CaseState(item.body, item.event.at, item.event.at, 1, (first,))


def _step(state: CaseState, item: _Read) -> CaseState:
    kind = item.event.kind
    if state.closing is not None and kind not in ON_A_CLOSED_CASE:
        raise RefusedEventError(item.event.seq, "", "the case is closed; reopen it first")
    return _STEPS[kind](state, item)


def _finding(state: CaseState, item: _Read) -> CaseState:
    found = finding_of(item.body)
    if found is None:
        raise RefusedEventError(item.event.seq, "", "this is an event of a kind of its own, not a finding")
    *earlier, last = state.stretches
    return replace(state, stretches=(*earlier, last.plus(Found(item.event.seq, found))))


def _details(state: CaseState, item: _Read) -> CaseState:
    told = {name: value for name, value in item.body if value is not None}
    return replace(state, opened=state.opened.model_copy(update=told))


def _repair(state: CaseState, item: _Read) -> CaseState:
    *earlier, last = state.stretches
    ended = replace(last, repair_after=Mended(item.event.seq, item.body))
    return replace(state, stretches=(*earlier, ended, Stretch()))


def _place(state: CaseState, item: _Read) -> CaseState:
    return replace(state, places=tuple(dict.fromkeys((*state.places, item.body.place))))


def _put_on(state: CaseState, item: _Read) -> CaseState:
    if item.body.id in state.put_on:
        raise RefusedEventError(
            item.event.seq, "/id", f"{item.body.id} is on already; put it back first, or name this one"
        )
    return replace(state, put_on={**state.put_on, item.body.id: item.body})


def _put_back(state: CaseState, item: _Read) -> CaseState:
    if item.body.id not in state.put_on:
        raise RefusedEventError(
            item.event.seq, "/id", f"{item.body.id} is not on; {_listed('there is on', state.put_on)}"
        )
    return replace(state, put_on={name: piece for name, piece in state.put_on.items() if name != item.body.id})


def _closed(state: CaseState, item: _Read) -> CaseState:
    if state.put_on:
        raise RefusedEventError(item.event.seq, "", f"the case cannot close: {_listed('not put back', state.put_on)}")
    return replace(state, closing=Closing(item.event.at, item.body))


def _reopened(state: CaseState, item: _Read) -> CaseState:
    if state.closing is None:
        raise RefusedEventError(item.event.seq, "", "the case is open")
    return replace(state, closing=None)


def _listed(what: str, names: Iterable[str]) -> str:
    return f"{what}: {', '.join(names) or 'nothing'}"


_STEPS: Mapping[str, Callable[[CaseState, _Read], CaseState]] = {
    "finding": _finding,
    "declined": _finding,
    "details": _details,
    "repair": _repair,
    "place-opened": _place,
    "put-on": _put_on,
    "put-back": _put_back,
    "closed": _closed,
    "reopened": _reopened,
    "retraction": lambda state, _: state,
    "worked": lambda state, item: replace(state, worked=tuple(dict.fromkeys((*state.worked, item.body)))),
    "note": lambda state, item: replace(state, notes=(*state.notes, item.body)),
    "authorised": lambda state, item: replace(state, authorised=(*state.authorised, item.body)),
    "spent": lambda state, item: replace(state, spent=(*state.spent, item.body)),
    "work-declined": lambda state, item: replace(state, work_declined=(*state.work_declined, item.body)),
    "not-fit": lambda state, item: replace(state, not_fit_until=item.body.until),
    "fit": lambda state, _: replace(state, not_fit_until=None),
    "moved": lambda state, item: replace(state, moved=item.body.release),
    "comeback": lambda state, item: replace(state, comeback_of=item.body.of),
}
