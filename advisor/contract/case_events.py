"""What a caller may open and add: a case, and the events of its journal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal, get_args, get_type_hints

from pydantic import AfterValidator, BaseModel, Field, RootModel

from advisor.contract.body import Json
from advisor.contract.case_bodies import (
    Authorised,
    CaseVehicle,
    Closed,
    Comeback,
    Declined,
    Details,
    Fit,
    Moved,
    Note,
    NotFit,
    Opened,
    PlaceOpened,
    PutBack,
    PutOn,
    Reopened,
    Repair,
    Retraction,
    Short,
    Spent,
    Text,
    WorkDeclined,
    Worked,
)
from advisor.contract.request import AnyFindingIn, CostsIn, FindingIn, Name, Strict

MAX_EVENTS = 100


class CaseIn(Strict):
    """A case to open: the circuit, and what the counter knows; the complaint may come later as a finding."""

    circuit: Name
    by: Short = Field(default="bench", description="who enters this; with a token its name is written instead")
    vehicle: CaseVehicle = CaseVehicle()
    symptom: Name | None = Field(default=None, description="the symptom that the complaint comes down to")
    words: Text | None = Field(default=None, description="the complaint in the customer's words; can be erased")
    identity: Short | None = Field(default=None, description="plate or frame number of the vehicle; can be erased")
    reference: Short | None = Field(default=None, description="the shop's own number of the order")
    costs: CostsIn = CostsIn()
    comeback_of: Short | None = Field(default=None, description="id of an earlier case that this one comes back from")


class FindingEvent(Strict):
    """Something learned, as the one finding object."""

    kind: Literal["finding"]
    body: FindingIn


class RetractionEvent(Strict):
    """An earlier event does not count."""

    kind: Literal["retraction"]
    body: Retraction


class PlaceOpenedEvent(Strict):
    """A place was opened."""

    kind: Literal["place-opened"]
    body: PlaceOpened


class DeclinedEvent(Strict):
    """A test is left out."""

    kind: Literal["declined"]
    body: Declined


class DetailsEvent(Strict):
    """The counter has learned more of vehicle or order."""

    kind: Literal["details"]
    body: Details


class RepairEvent(Strict):
    """A repair was done and tried."""

    kind: Literal["repair"]
    body: Repair


class WorkedEvent(Strict):
    """Where somebody has worked."""

    kind: Literal["worked"]
    body: Worked


class NoteEvent(Strict):
    """A note."""

    kind: Literal["note"]
    body: Note


class AuthorisedEvent(Strict):
    """More time or money was authorised."""

    kind: Literal["authorised"]
    body: Authorised


class SpentEvent(Strict):
    """Time or money has gone into the case."""

    kind: Literal["spent"]
    body: Spent


class WorkDeclinedEvent(Strict):
    """Work was declined."""

    kind: Literal["work-declined"]
    body: WorkDeclined


class PutOnEvent(Strict):
    """A jumper, a pulled fuse, an unplugged connector or a bypass."""

    kind: Literal["put-on"]
    body: PutOn


class PutBackEvent(Strict):
    """One of them is off again."""

    kind: Literal["put-back"]
    body: PutBack


class NotFitEvent(Strict):
    """Not fit for the road."""

    kind: Literal["not-fit"]
    body: NotFit


class FitEvent(Strict):
    """Fit again."""

    kind: Literal["fit"]
    body: Fit


class ClosedEvent(Strict):
    """The case is closed."""

    kind: Literal["closed"]
    body: Closed


class ReopenedEvent(Strict):
    """The case is open again."""

    kind: Literal["reopened"]
    body: Reopened


class MovedEvent(Strict):
    """The case goes on under the release in force."""

    kind: Literal["moved"]
    body: Moved


class ComebackEvent(Strict):
    """A link to an earlier case."""

    kind: Literal["comeback"]
    body: Comeback


AnyEventIn = (
    FindingEvent
    | RetractionEvent
    | PlaceOpenedEvent
    | DeclinedEvent
    | DetailsEvent
    | RepairEvent
    | WorkedEvent
    | NoteEvent
    | AuthorisedEvent
    | SpentEvent
    | WorkDeclinedEvent
    | PutOnEvent
    | PutBackEvent
    | NotFitEvent
    | FitEvent
    | ClosedEvent
    | ReopenedEvent
    | ComebackEvent
    | MovedEvent
)
EventIn = Annotated[AnyEventIn, Field(discriminator="kind")]


def _some(events: tuple[AnyEventIn, ...]) -> tuple[AnyEventIn, ...]:
    if not events:
        raise ValueError("expected at least one event")
    return events


class EventsIn(Strict):
    """Events to add, all of them or none."""

    by: Short = Field(default="bench", description="who enters this; with a token its name is written instead")
    events: Annotated[tuple[EventIn, ...], Field(strict=False, max_length=MAX_EVENTS), AfterValidator(_some)]


class OpenedEvent(Strict):
    """The first event, which opening a case writes."""

    kind: Literal["opened"]
    body: Opened


class _Stored(RootModel[Annotated[AnyEventIn | OpenedEvent, Field(discriminator="kind")]]):
    """Any event as the store keeps it."""


AnyBody = (
    AnyFindingIn
    | Retraction
    | PlaceOpened
    | Declined
    | Details
    | Repair
    | Worked
    | Note
    | Authorised
    | Spent
    | WorkDeclined
    | PutOn
    | PutBack
    | NotFit
    | Fit
    | Closed
    | Reopened
    | Comeback
    | Moved
    | Opened
)
EVENTS: Mapping[str, type[BaseModel]] = {
    get_args(event.model_fields["kind"].annotation)[0]: event for event in get_args(AnyEventIn)
}
KINDS: Mapping[type[BaseModel], str] = {
    get_type_hints(event)["body"]: kind for kind, event in EVENTS.items() if kind != "finding"
}
"""The kind of event that a body belongs to; findings have kinds of their own."""


def body_of(kind: str, body: Mapping[str, Json]) -> AnyBody:
    """Read a stored body of a kind; raises pydantic's ValidationError where the kind or the body is unknown."""
    return _Stored.model_validate({"kind": kind, "body": body}).root.body
