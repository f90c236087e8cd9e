"""The request as types: what a caller may ask, before a circuit is known.

Strict: unknown keys are refused, a boolean is no number, NaN and infinity are no numbers.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Discriminator, Field, Tag, TypeAdapter, model_validator

from advisor.knowledge.prevalence import Vehicle as Usual

MAX_FINDINGS = 200
MAX_WORKED = 20
STARTED_WORKING = "it started working meanwhile: evidence that the first complaint reported comes and goes"
Name = Annotated[str, Field(min_length=1, max_length=200)]
Value = Annotated[float, Field(ge=-1e6, le=1e6)]


class Strict(BaseModel):
    """A part of a request: frozen, no unknown keys, no silent conversion."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class Vehicle(Strict):
    """What is known of the vehicle: age [years] and time in use [hours]."""

    years: float = Field(default=Usual.years, ge=0, le=60, description="age [years]")
    hours: float = Field(default=Usual.hours, ge=0, le=100_000, description="time in use [hours]")


class CostsIn(Strict):
    """Prices [money]: labour per hour, handing the vehicle over, and the currency's three letters."""

    labour_per_hour: float = Field(default=85.0, ge=0, le=1e6)
    hand_over: float = Field(default=250.0, ge=0, le=1e9)
    currency: str = Field(default="EUR", pattern="^[A-Z]{3}$")


class AmountIn(Strict):
    """What the customer authorised in all: money, working time [minutes]; null is no limit."""

    money: float | None = Field(default=None, ge=0, le=1e9)
    minutes: float | None = Field(default=None, ge=0, le=1e6, description="working time [min]")


class SpentIn(Strict):
    """What the case has cost so far, of what was authorised: money, working time [minutes]."""

    money: float = Field(default=0.0, ge=0, le=1e9)
    minutes: float = Field(default=0.0, ge=0, le=1e6, description="working time [min]")


class Timed(Strict):
    """Something found on the vehicle, so many minutes into the case if that is known [min]."""

    minute: float | None = Field(default=None, ge=0, le=1e6, description="minutes since the case began [min]")


class SymptomIn(Strict):
    """A symptom that the customer reports, or says is absent."""

    kind: Literal["symptom"] = "symptom"
    symptom: Name
    present: bool = True
    comes_and_goes: bool | None = Field(
        default=None, description="whether it shows now and then (true) or always (false); null where nobody asked"
    )

    @model_validator(mode="after")
    def of_something(self) -> SymptomIn:
        """Refuse to say how something is that is not."""
        if self.comes_and_goes is not None and not self.present:
            raise ValueError("a symptom that is absent neither comes and goes nor stays")
        return self


class OutcomeIn(Timed):
    """A test came out in one of its named outcomes."""

    kind: Literal["outcome"] = "outcome"
    test: Name
    outcome: Name


class DeclinedIn(Strict):
    """A test that cannot be done, or whose answer is not sure: no evidence, and it is not proposed again."""

    kind: Literal["declined"] = "declined"
    test: Name
    started_working: bool = Field(default=False, description=STARTED_WORKING)


class RepairIn(Strict):
    """A repair was done; with a result the complaint was looked for afterwards.

    Findings after it are of what it has left, and each test may be answered once more.
    """

    kind: Literal["repair"] = "repair"
    repair: Name
    result: Literal["stays", "gone", "back"] | None = Field(
        default=None, description="the complaint stays, is gone, or was gone and came back; absent: not looked for"
    )
    symptom: Name | None = Field(default=None, description="which complaint; absent: the first reported")


class Reading(Strict):
    """What an instrument showed: a value with its unit, or over range; an empty unit is the test's own."""

    value: Value | None = None
    unit: str | None = Field(default=None, max_length=20)
    over_range: bool = False

    @model_validator(mode="after")
    def one_of_two(self) -> Reading:
        """Refuse a reading that is neither a value with its unit nor over range, or both."""
        if self.over_range == (self.value is not None):
            raise ValueError("a reading is a value with its unit, or over_range: true, and not both")
        if self.value is not None and self.unit is None:
            raise ValueError("the unit of the value is missing")
        return self


class FlatReadingIn(Reading, Timed):
    """A reading in the tagged form, value and unit beside the test."""

    kind: Literal["reading"] = "reading"
    test: Name


class ReadingIn(Timed):
    """A reading in the short form, value and unit in their own object."""

    kind: Literal["reading"] = "reading"
    test: Name
    reading: Reading


def _tag(value: object) -> str | None:
    if not isinstance(value, dict):
        return getattr(value, "kind", None)
    kind = value.get("kind")
    if kind is None:
        kind = next((key for key in ("repair", "symptom", "outcome", "reading") if key in value), None)
        kind = kind or ("reading" if value.keys() & {"value", "over_range"} else None)
    if kind == "reading":
        return "short-reading" if "reading" in value else "reading"
    return kind if kind in ("symptom", "outcome", "declined", "repair") else None


FindingIn = Annotated[
    Annotated[SymptomIn, Tag("symptom")]
    | Annotated[OutcomeIn, Tag("outcome")]
    | Annotated[DeclinedIn, Tag("declined")]
    | Annotated[RepairIn, Tag("repair")]
    | Annotated[FlatReadingIn, Tag("reading")]
    | Annotated[ReadingIn, Tag("short-reading")],
    Discriminator(_tag),
]
AnyFindingIn = SymptomIn | OutcomeIn | DeclinedIn | RepairIn | FlatReadingIn | ReadingIn
FINDING_TAGS = frozenset({"symptom", "outcome", "declined", "repair", "reading", "short-reading"})
FINDING: TypeAdapter[AnyFindingIn] = TypeAdapter(FindingIn)


class WorkedIn(Strict):
    """Somebody has worked at a place lately, or added equipment there: tracker, tow socket, camera, beacon."""

    place: Name
    what: Literal["work", "equipment"] = "work"


class AdviceRequest(Strict):
    """One vehicle with one complaint: what was reported and measured so far, and what time costs."""

    circuit: Name
    vehicle: Vehicle = Vehicle()
    findings: Annotated[tuple[FindingIn, ...], Field(strict=False, max_length=MAX_FINDINGS)] = ()
    opened: Annotated[tuple[Name, ...], Field(strict=False, max_length=MAX_FINDINGS)] = ()
    worked: Annotated[tuple[WorkedIn, ...], Field(strict=False, max_length=MAX_WORKED)] = ()
    costs: CostsIn = CostsIn()
    authorised: AmountIn = AmountIn()
    spent: SpentIn = SpentIn()
    depth: int = Field(
        default=2,
        ge=1,
        le=4,
        description="steps looked ahead where next steps are valued; 3 and 4 follow the best of them to the end of the "
        "case, which takes seconds",
    )
    reasons: bool = Field(default=False, description="whether to say what each finding says of the first causes")
