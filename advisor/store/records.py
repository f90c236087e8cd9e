"""What the store keeps beside events, as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from advisor.contract.body import Json


@dataclass(frozen=True)
class CaseRow:
    """A case as lists show it; `version` is the seq of its last event."""

    id: str
    shop: str
    circuit: str
    reference: str | None
    state: str
    opened_at: datetime
    changed_at: datetime
    version: int


@dataclass(frozen=True)
class Wanted:
    """Which cases of a shop a list is about, newest first, and how many; `before` is where the page before ended."""

    shop: str
    state: str | None = None
    circuit: str | None = None
    reference: str | None = None
    since: datetime | None = None
    before: int | None = None
    limit: int = 50


@dataclass(frozen=True)
class Page:
    """A page of a list, and where the next one begins; None after the last."""

    rows: tuple[CaseRow, ...]
    before: int | None


@dataclass(frozen=True)
class Key:
    """An idempotency key: whose and where, the key itself, and the SHA-256 of the request that it came with."""

    shop: str
    token: str
    route: str
    key: str
    fingerprint: str


@dataclass(frozen=True)
class Kept:
    """What a key's first request did: the case, and the version that it left."""

    case: str
    version: int
    fingerprint: str


@dataclass(frozen=True)
class Token:
    """A token as the store knows it: a public id, whose it is, what it may do, and until when."""

    id: str
    shop: str
    name: str
    role: str
    made_at: datetime
    expires_at: datetime
    revoked_at: datetime | None = None


@dataclass(frozen=True)
class ImportRecord:
    """An import: the SHA-256 of what was sent, and what was answered."""

    fingerprint: str
    answer: Mapping[str, Json]


@dataclass(frozen=True)
class ImportedOrder:
    """A repair order as it was read: hash and circuit, when the case began or else ended, and its cells."""

    digest: str
    circuit: str
    at: datetime
    cells: Mapping[str, str | float | None]


@dataclass(frozen=True)
class ReleaseRow:
    """A release of priors as it was added: its hash, for which shop ("" for all), name, when, by whom, content."""

    id: str
    name: str
    shop: str
    at: datetime
    by: str
    content: Mapping[str, Json]


@dataclass(frozen=True)
class Activation:
    """A release put in force for a shop ("" for all), None for the library's priors; or `back` from the last one."""

    shop: str
    release: str | None
    back: bool
    at: datetime
    by: str
