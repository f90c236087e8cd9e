"""What a case is at a point of its journal, as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from advisor.contract.answer import Release
from advisor.contract.case_bodies import Authorised, Closed, Note, Opened, PutOn, Repair, Spent, WorkDeclined, Worked
from advisor.contract.request import AnyFindingIn, RepairIn, SymptomIn


@dataclass(frozen=True)
class Found:
    """A finding that counts, with the event that told it."""

    seq: int
    finding: AnyFindingIn

    @property
    def about(self) -> tuple[str, str]:
        """What one stretch has one answer for: a symptom, or a test; or the repair that ends it."""
        if isinstance(self.finding, SymptomIn):
            return ("symptom", self.finding.symptom)
        if isinstance(self.finding, RepairIn):
            return ("repair", self.finding.repair)
        return ("test", self.finding.test)


@dataclass(frozen=True)
class Mended:
    """A repair, with the event that told it."""

    seq: int
    repair: Repair


@dataclass(frozen=True)
class Stretch:
    """Findings between two repairs, in order, and the repair that ended them."""

    findings: tuple[Found, ...] = ()
    repair_after: Mended | None = None

    def plus(self, found: Found) -> Stretch:
        """Give the stretch with a finding added; an older answer about the same goes."""
        kept = tuple(old for old in self.findings if old.about != found.about)
        return Stretch((*kept, found), self.repair_after)


@dataclass(frozen=True)
class Closing:
    """How and when [UTC] a case was closed."""

    at: datetime
    body: Closed


@dataclass(frozen=True)
class CaseState:
    """A case as its journal tells it: everything that a person asks of it, and nothing that is not in the journal."""

    opened: Opened
    opened_at: datetime
    changed_at: datetime
    version: int
    stretches: tuple[Stretch, ...]
    places: tuple[str, ...] = ()
    put_on: Mapping[str, PutOn] = field(default_factory=dict)
    authorised: tuple[Authorised, ...] = ()
    spent: tuple[Spent, ...] = ()
    work_declined: tuple[WorkDeclined, ...] = ()
    worked: tuple[Worked, ...] = ()
    notes: tuple[Note, ...] = ()
    not_fit_until: str | None = None
    closing: Closing | None = None
    comeback_of: str | None = None
    moved: Release | None = None
    retracted: frozenset[int] = frozenset()

    @property
    def release(self) -> Release:
        """The release that the case keeps to: what it was opened with, or moved to."""
        return self.moved or self.opened.release

    @property
    def status(self) -> str:
        """Tell whether the case is open or closed."""
        return "open" if self.closing is None else "closed"

    @property
    def repairs(self) -> tuple[Mended, ...]:
        """The repairs that count, in order."""
        return tuple(stretch.repair_after for stretch in self.stretches if stretch.repair_after)

    @property
    def findings(self) -> tuple[Found, ...]:
        """The findings that count, in order, of all stretches."""
        return tuple(found for stretch in self.stretches for found in stretch.findings)
