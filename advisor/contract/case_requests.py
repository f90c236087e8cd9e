"""Cases and events as sent against their types and against what the circuit knows."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from advisor.contract.body import Json, pointer
from advisor.contract.case_bodies import Closed, Declined, Opened, PlaceOpened, Repair, Worked
from advisor.contract.case_events import AnyBody, AnyEventIn, CaseIn
from advisor.contract.engine import KnownModel
from advisor.contract.evidence import Evidence
from advisor.contract.nearest import unknown
from advisor.contract.refusals import FINDING_FORMS, problems_of
from advisor.contract.request import (
    FINDING,
    AnyFindingIn,
    DeclinedIn,
    FlatReadingIn,
    OutcomeIn,
    ReadingIn,
    RepairIn,
    SymptomIn,
)
from advisor.errors import RequestError, RequestProblem

Sent = TypeVar("Sent", bound=BaseModel)


def parse(kind: type[Sent], body: Json) -> Sent:
    """Read a request of a type; raises RequestError with everything that is wrong."""
    try:
        return kind.model_validate(body)
    except ValidationError as error:
        raise RequestError(problems_of(error)) from error


def finding_of(body: AnyBody) -> AnyFindingIn | None:
    """Give what an event's body tells the engine, as the one finding object; None where it tells nothing."""
    if isinstance(body, SymptomIn | OutcomeIn | DeclinedIn | FlatReadingIn | ReadingIn):
        return body
    if isinstance(body, Declined):
        return DeclinedIn(test=body.test, started_working=body.started_working)
    if isinstance(body, Opened) and body.symptom is not None:
        return SymptomIn(symptom=body.symptom)
    if isinstance(body, Repair):
        return RepairIn(repair=body.repair, result=body.result)
    return None


def wrong_with_finding(sent: Json, model: KnownModel) -> list[str]:
    """List what is wrong with one finding object: its form, or what it names."""
    try:
        finding = FINDING.validate_python(sent)
    except ValidationError:
        return [FINDING_FORMS]
    checked = Evidence(model)
    checked.add(0, finding)
    return [problem.message for problem in checked.problems]


def check_symptom(case: CaseIn, model: KnownModel) -> None:
    """Refuse a symptom that the circuit does not know; raises RequestError."""
    if case.symptom is not None and case.symptom not in model.schematic.symptoms:
        problem = unknown("symptom", case.symptom, model.schematic.symptoms)
        raise RequestError([RequestProblem(pointer("symptom"), problem)])


def check_events(events: Iterable[AnyEventIn], model: Callable[[], KnownModel]) -> None:
    """Refuse events that name what the circuit does not have; raises RequestError with all of them.

    The model is asked for only where an event speaks of the circuit, so that a jumper can be put back on a case
    whose circuit is no longer on the shelf.
    """
    problems: list[RequestProblem] = []
    for place, event in enumerate(events):
        problems += (_moved(problem, place) for problem in _problems(event.body, model))
    if problems:
        raise RequestError(problems)


def _problems(body: AnyBody, model: Callable[[], KnownModel]) -> list[RequestProblem]:
    if (finding := finding_of(body)) is not None:
        checked = Evidence(model())
        checked.add(0, finding)
        return checked.problems
    if isinstance(body, PlaceOpened | Worked):
        return _named("place", [(("place",), body.place)], model().schematic.places)
    if isinstance(body, Closed) and body.causes:
        parts = [cause.rpartition("/")[0] or cause for cause in body.causes]
        named = [(("causes", place), part) for place, part in enumerate(parts)]
        return _named("part of a cause PART/MODE", named, model().cause_parts)
    return []


def _named(
    what: str, named: Iterable[tuple[tuple[str | int, ...], str]], known: Collection[str]
) -> list[RequestProblem]:
    return [RequestProblem(pointer(*where), unknown(what, name, known)) for where, name in named if name not in known]


def _moved(problem: RequestProblem, event: int) -> RequestProblem:
    """Give a problem of a body, or of the only finding of a request, as one of an event."""
    inside = problem.pointer.removeprefix(pointer("findings", 0)).removeprefix("#")
    return RequestProblem(pointer("events", event, "body") + inside, problem.message)
