"""One event of a case's journal as a plain value, for those who store it and those who replay it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from advisor.contract.body import Json
from advisor.errors import CaseError

VERSION = 1
ERASED = "[erased]"
# What may name or describe a person, by kind of event: kept apart, so that it can be erased and the rest stays.
PERSONAL: Mapping[str, tuple[str, ...]] = {
    "opened": ("words", "identity"),
    "details": ("words", "identity"),
    "note": ("text",),
    "authorised": ("whom",),
    "work-declined": ("whom",),
    "closed": ("complaint",),
}


@dataclass(frozen=True)
class Event:
    """What happened in a case: form `v` of the body, place `seq` in the journal from 1, when [UTC], by whom, what."""

    v: int
    seq: int
    at: datetime
    by: str
    kind: str
    body: Mapping[str, Json]


class StaleCaseError(CaseError):
    """The case has changed since the version that a write has seen; `changed` are the events since then."""

    def __init__(self, version: int, changed: Sequence[Event]) -> None:
        self.version, self.changed = version, tuple(changed)
        count = len(self.changed)
        super().__init__(
            f"the case is at version {version}; {count} {'event was' if count == 1 else 'events were'} added "
            "since the version that was sent"
        )
