"""A row of repair orders as it is sent in, and what is said about an import."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from advisor.contract.case_bodies import Short, Text
from advisor.contract.case_queries import Query
from advisor.contract.frozen import Answered
from advisor.contract.request import Name
from advisor.errors import RequestError, RequestProblem

MAX_ROWS = 50_000
MAX_BYTES = 20_000_000
NEEDED = ("reference", "circuit", "closed_at")


def _in_utc(moment: datetime) -> datetime:
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


class NotCsvError(RequestError):
    """The body is no table of orders."""

    kind = "not-csv"

    def __init__(self, message: str) -> None:
        super().__init__([RequestProblem("#", message)])


Moment = Annotated[datetime, AfterValidator(_in_utc)]
"""A moment; without a time zone it is taken as UTC."""


class OrderRow(Query):
    """One closed repair order; the columns are those of the export, and an empty cell says nothing.

    `findings` is a JSON list of finding objects, `causes` is PART/MODE parted by semicolons.
    """

    case: Short | None = None
    reference: Short
    circuit: Name
    opened_at: Moment | None = None
    closed_at: Moment
    years: float | None = Field(default=None, ge=0, le=100)
    hours: float | None = Field(default=None, ge=0, le=1e6)
    odometer_km: float | None = Field(default=None, ge=0, le=1e7)
    symptom: Name | None = None
    findings: str | None = Field(default=None, max_length=100_000)
    repairs: Text | None = None
    causes: Text | None = None
    cause_status: Literal["confirmed", "believed", "unknown"] | None = None
    cause: Text | None = None
    cause_of_cause: Text | None = None
    correction: Text | None = None
    parts: Text | None = None
    parts_price: float | None = Field(default=None, ge=0, le=1e9)
    minutes: float | None = Field(default=None, ge=0, le=1e6)
    proved_good: Text | None = None
    comeback_of: Short | None = None
    not_fit_until: Text | None = None
    knowledge: Short | None = None
    priors: Short | None = None
    engine: Short | None = None
    shop: Short | None = None
    vehicle: Short | None = None
    vehicle_group: Short | None = None
    climate: Literal["temperate", "wet", "salted", "hot-dry"] | None = None
    came_back: Literal["true", "false"] | None = None
    followed_days: float | None = Field(default=None, ge=0, le=36_500)
    cost: float | None = Field(default=None, ge=0, le=1e9)
    source: Short | None = None


COLUMNS: Mapping[str, bool] = {name: name in NEEDED for name in OrderRow.model_fields}
"""Every column of a table of orders, and whether an import needs it."""


class BadCell(Answered):
    """Something wrong in a table: line and cell count from 1, the header being line 1; `column` is the cell's name."""

    line: int
    cell: int
    column: str | None
    detail: str


class ImportOut(Answered):
    """What became of an import: all rows are either accepted and kept, or rejected with every reason."""

    rows: int
    accepted: int
    rejected: int
    errors: tuple[BadCell, ...]
