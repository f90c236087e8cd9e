"""From a case to the request that the engine answers: the one place where the two are mapped."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from advisor.cases.presenting import amount
from advisor.cases.state import CaseState, Found, Mended, Stretch
from advisor.contract.body import Json, pointer
from advisor.contract.case_requests import finding_of
from advisor.contract.request import SymptomIn
from advisor.errors import RequestError, RequestProblem


@dataclass(frozen=True)
class Question:
    """A request as JSON values, and for each of its findings the event that told it."""

    body: dict[str, Json]
    sources: tuple[int, ...]

    def retold(self, error: RequestError) -> RequestError:
        """Give an error whose pointers lead to the events of the case instead of the findings of the request."""
        return type(error)([RequestProblem(self._event(item.pointer), item.message) for item in error.problems])

    def _event(self, at: str) -> str:
        part, _, rest = at.removeprefix("#/").partition("/")
        place, _, inside = rest.partition("/")
        if part != "findings" or not place.isdigit():
            return at
        return pointer("events", self.sources[int(place)] - 1, "body") + (f"/{inside}" if inside else "")


def question(state: CaseState, *, depth: int = 2, reasons: bool = False) -> Question:
    """Ask for advice on a case as it stands."""
    told = tuple(_told(state))
    return Question(
        {
            "circuit": state.opened.circuit,
            "vehicle": {"years": state.opened.vehicle.years, "hours": state.opened.vehicle.hours},
            "findings": [found.finding.model_dump(mode="json", exclude_none=True) for found in told],
            "opened": list(state.places),
            "worked": [work.model_dump(mode="json") for work in state.worked],
            "authorised": amount(state.authorised).model_dump(mode="json"),
            "spent": amount(state.spent).model_dump(mode="json", exclude_none=True),
            "costs": state.opened.costs.model_dump(mode="json"),
            "depth": depth,
            "reasons": reasons,
        },
        tuple(found.seq for found in told),
    )


def question_at_opening(state: CaseState) -> dict[str, Json]:
    """Ask what was likely when only the first complaint was known."""
    first = tuple(found for found in state.stretches[0].findings if isinstance(found.finding, SymptomIn))
    return question(replace(state, stretches=(Stretch(first),)), depth=1).body


def _told(state: CaseState) -> Iterable[Found]:
    """Give what the engine is told, in order: findings of all stretches with the repairs between them."""
    return [row for stretch in state.stretches for row in (*stretch.findings, *_repaired(stretch.repair_after))]


def _repaired(mended: Mended | None) -> tuple[Found, ...]:
    if mended is None:
        return ()
    finding = finding_of(mended.repair)
    return (Found(mended.seq, finding),) if finding else ()
