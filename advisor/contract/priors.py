"""A release of priors as a file: what a refit has learned, from which orders, and how it was judged."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from advisor.contract.body import Json, parse_json
from advisor.contract.case_bodies import Short
from advisor.contract.case_requests import parse
from advisor.contract.rates import Rates, named
from advisor.knowledge.learned import Learned
from advisor.knowledge.model import PRIORS

Positive = Annotated[float, Field(strict=True, gt=0.0, le=1e6)]


class _Open(BaseModel):
    """A part of the file that may hold more than is read here."""

    model_config = ConfigDict(extra="allow", frozen=True, allow_inf_nan=False)


class Factor(_Open):
    """By what a cause's rate is multiplied, between which bounds, and what says so."""

    factor: Positive
    low: Positive | None = None
    high: Positive | None = None
    events: Annotated[float, Field(ge=0.0)] | None = None
    source: Literal["orders", "handbook"] | None = Field(default=None, alias="from")


class Minutes(_Open):
    """By what the library's minutes of a kind of work are multiplied."""

    factor: Positive


class Slips(_Open):
    """Chance of a slip of an instrument."""

    middle: Annotated[float, Field(strict=True, gt=0.0, le=0.5)]


class PriorsFile(_Open):
    """A release of priors."""

    format: Literal["priors/1"]
    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9.-]{0,59}$")]
    base: Short = PRIORS
    made_at: datetime | None = None
    knowledge: dict[str, str] = Field(default_factory=dict)
    factors: dict[str, dict[str, Factor]]
    minutes: dict[str, Minutes] = Field(default_factory=dict)
    slips: dict[str, Slips] = Field(default_factory=dict)
    in_force: tuple[Literal["minutes", "slips"], ...] = ()
    verdict: Short | None = None


@dataclass(frozen=True)
class PriorsRelease:
    """A release of priors with its content.

    Attributes:
        id: SHA-256 of its content.
        file: What was read of it.
        content: All that the file holds.
    """

    id: str
    file: PriorsFile
    content: Mapping[str, Any]  # Any: JSON, more of it than is read here

    @property
    def rates(self) -> Rates:
        """What it makes of the library's rates, and of its minutes and slips where these are to be in force."""
        told = {c: {cause: f.factor for cause, f in causes.items()} for c, causes in self.file.factors.items()}
        minutes = {work: each.factor for work, each in self.file.minutes.items() if "minutes" in self.file.in_force}
        slips = {tool: each.middle for tool, each in self.file.slips.items() if "slips" in self.file.in_force}
        return Rates(named(self.file.name, self.id), told, Learned(minutes, slips))


def read_priors(raw: bytes) -> PriorsRelease:
    """Read a release from JSON text; raises RequestError with everything that is wrong."""
    return priors_of(parse_json(raw))


def priors_of(body: Json) -> PriorsRelease:
    """Read a release from JSON values; raises RequestError with everything that is wrong."""
    file = parse(PriorsFile, body)
    assert isinstance(body, dict)  # else it had not been parsed
    return PriorsRelease(content_id(body), file, body)


def content_id(content: Mapping[str, Any]) -> str:  # Any: as above
    """Hash the content of a release, whatever the order of its keys."""
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return "sha256:" + hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
