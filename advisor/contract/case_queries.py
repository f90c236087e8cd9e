"""What may be asked in the query of an address about cases."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from advisor.contract.body import Json, pointer
from advisor.contract.case_bodies import Short
from advisor.errors import RequestError, RequestProblem


class Query(BaseModel):
    """A query: texts are read as what they are to be, unknown names are refused."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class CasesQuery(Query):
    """Which cases a list is about."""

    state: Literal["open", "closed"] | None = Field(default=None, description="open or closed ones alone")
    circuit: Short | None = Field(default=None, description="id of a circuit")
    reference: Short | None = Field(default=None, description="the shop's own number of the order")
    since: date | None = Field(default=None, description="opened on this day [UTC] or later")
    cursor: int | None = Field(default=None, ge=0, lt=2**63, description="next of the page before")
    limit: int = Field(default=50, ge=1, le=200, description="cases on a page")


class OrdersQuery(Query):
    """Which closed cases are exported, and how."""

    circuit: Short | None = Field(default=None, description="id of a circuit")
    since: date | None = Field(default=None, description="opened on this day [UTC] or later")
    format: Literal["csv", "parquet"] = Field(
        default="csv", description="form of the table; absent: as Accept prefers, else csv"
    )


class AdviceQuery(Query):
    """How advice on a case is to be given."""

    depth: Literal["1", "2"] = Field(default="2", description="steps looked ahead where next steps are valued")
    release: Literal["case", "now"] = Field(
        default="case", description="under the priors that the case keeps to, or under those in force now"
    )
    reasons: Literal["true", "false"] = Field(
        default="false", description="whether to say what each finding says of the first causes"
    )


def query_values(pairs: Iterable[tuple[str, str]]) -> dict[str, Json]:
    """Give the names and texts of a query; raises RequestError for a name that comes twice."""
    found: dict[str, Json] = {}
    for name, text in pairs:
        if name in found:
            raise RequestError([RequestProblem(pointer(name), "this name stands in the query more than once")])
        found[name] = text
    return found
