"""What each kind of event in a case says, as types.

Each body is strict as the requests are; a text without NUL is what every database can hold.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from advisor.contract.answer import Release
from advisor.contract.request import STARTED_WORKING, CostsIn, Name, Strict, Vehicle, WorkedIn

MAX_LISTED = 100


def _storable(text: str) -> str:
    if "\x00" in text:
        raise ValueError("expected a text without the character NUL")
    return text


Text = Annotated[str, Field(min_length=1, max_length=4000), AfterValidator(_storable)]
Short = Annotated[str, Field(min_length=1, max_length=200), AfterValidator(_storable)]
Minutes = Annotated[float, Field(ge=0, le=1e6)]
Money = Annotated[float, Field(ge=0, le=1e9)]


class CaseVehicle(Vehicle):
    """The vehicle of a case: age [years], time in use [hours], distance driven [km]."""

    odometer_km: float | None = Field(default=None, ge=0, le=1e7, description="distance driven [km]")


class Opened(Strict):
    """The body of the first event: the case as opened, and what it was first advised with."""

    circuit: Name
    vehicle: CaseVehicle = CaseVehicle()
    symptom: Name | None = None
    words: Text | None = None
    identity: Short | None = None
    reference: Short | None = None
    costs: CostsIn = CostsIn()
    release: Annotated[Release, Field(strict=False)]


class Moved(Strict):
    """The case goes on under the release that is in force now, named so that nobody moves it unseen."""

    release: Annotated[Release, Field(strict=False)]


class Details(Strict):
    """What the counter learned after the case was opened; what is not named stays as it was."""

    vehicle: CaseVehicle | None = None
    words: Text | None = Field(default=None, description="the complaint in the customer's words; can be erased")
    identity: Short | None = Field(default=None, description="plate or frame number of the vehicle; can be erased")
    reference: Short | None = Field(default=None, description="the shop's own number of the order")

    @model_validator(mode="after")
    def something(self) -> Details:
        """Refuse details of nothing."""
        if not any(value is not None for _, value in self):
            raise ValueError("expected a vehicle, words, an identity or a reference")
        return self


class Retraction(Strict):
    """An event that does not count any more; retracting a retraction makes the first one count again."""

    of: int = Field(ge=1, le=1_000_000, description="seq of the event")


class PlaceOpened(Strict):
    """A place is open, and need not be opened again."""

    place: Name


class Declined(Strict):
    """A test cannot be done, or its answer is not sure."""

    test: Name
    why: Short | None = None
    started_working: bool = Field(default=False, description=STARTED_WORKING)


class Repair(Strict):
    """A repair was done, and the complaint stays, is gone, or came back after some days."""

    repair: Name
    result: Literal["stays", "gone", "back"]
    after_days: float | None = Field(default=None, ge=0, le=36_500, description="days until it came back [days]")

    @model_validator(mode="after")
    def days_belong_to_back(self) -> Repair:
        """Refuse days for a complaint that did not come back."""
        if self.after_days is not None and self.result != "back":
            raise ValueError("after_days belongs to the result back")
        return self


class Worked(WorkedIn):
    """Somebody has worked at a place lately, or added equipment there: faults that such work brings are likelier."""


class Note(Strict):
    """Anything worth writing down; can be erased."""

    text: Text


class Authorised(Strict):
    """Time [min] or money that the customer has authorised on top of what was authorised before."""

    minutes: Minutes | None = None
    money: Money | None = None
    whom: Short = Field(description="who authorised it; can be erased")

    @model_validator(mode="after")
    def something(self) -> Authorised:
        """Refuse an authorisation of nothing."""
        if self.minutes is None and self.money is None:
            raise ValueError("expected minutes, money or both")
        return self


class Spent(Strict):
    """Time [min] or money that has gone into the case, on top of what had gone into it before."""

    minutes: Minutes | None = None
    money: Money | None = None

    @model_validator(mode="after")
    def something(self) -> Spent:
        """Refuse nothing spent."""
        if self.minutes is None and self.money is None:
            raise ValueError("expected minutes, money or both")
        return self


class WorkDeclined(Strict):
    """Work that the customer does not want done."""

    what: Text
    whom: Short | None = Field(default=None, description="who declined it; can be erased")


class PutOn(Strict):
    """Something put on the vehicle that must come off again."""

    id: Short = Field(description="what the bench calls this very piece, such as jumper-1 or C12")
    what: Literal["jumper", "fuse-pulled", "unplugged", "bypass"]
    where: Short | None = None


class PutBack(Strict):
    """Something put on is off again."""

    id: Short


class NotFit(Strict):
    """The vehicle is not fit for the road until something is done."""

    until: Text


class Fit(Strict):
    """The vehicle is fit for the road again."""

    why: Text


class PartUsed(Strict):
    """A part that was fitted, how many of it, its price each [money]."""

    part: Short
    count: int = Field(default=1, ge=1, le=1000)
    price: Money | None = None


class StepTime(Strict):
    """Time that a step took [min]."""

    step: Short
    minutes: Minutes


class Closed(Strict):
    """The case as it ends: complaint, cause, correction, and what they took."""

    complaint: Text | None = Field(default=None, description="the complaint as written up; can be erased")
    cause: Text
    correction: Text
    cause_status: Literal["confirmed", "believed", "unknown"]
    causes: Annotated[tuple[Short, ...], Field(strict=False, max_length=MAX_LISTED)] = ()
    cause_of_cause: Text | None = None
    parts: Annotated[tuple[PartUsed, ...], Field(strict=False, max_length=MAX_LISTED)] = ()
    minutes: Annotated[tuple[StepTime, ...], Field(strict=False, max_length=MAX_LISTED)] = ()
    proved_good: Annotated[tuple[Short, ...], Field(strict=False, max_length=MAX_LISTED)] = ()


class Reopened(Strict):
    """A closed case is worked on again."""

    why: Text


class Comeback(Strict):
    """The case comes back from an earlier one."""

    of: Short = Field(description="id of the earlier case")
