"""What is asked and told about releases of priors."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Literal

from pydantic import Field

from advisor.contract.case_bodies import Short
from advisor.contract.frozen import Answered
from advisor.contract.request import Strict


class ActivateIn(Strict):
    """A release to put in force: its id, NAME@DIGITS, or handbook-1 for the library's own priors."""

    release: Short


class RollBackIn(Strict):
    """What is in force now, so that a request that is sent twice goes back once."""

    leaving: Short = Field(description="priors of the release that is in force, as an answer names them")


class ReleaseLine(Answered):
    """A release in a list; `priors` is its name in answers, `scope` whose it is."""

    id: str
    priors: str
    scope: Literal["own", "common"]
    at: datetime
    by: str
    verdict: str | None


class InForceOut(Answered):
    """What is in force: the priors as answers name them, the shop's own release, the common one behind it."""

    priors: str
    own: str | None
    common: str | None
    since: datetime | None


class ReleaseList(Answered):
    """All releases that a shop may use, the newest first."""

    releases: tuple[ReleaseLine, ...]
    in_force: InForceOut


class ReleaseOut(ReleaseLine):
    """A release with all that its file holds."""

    content: dict[str, Any]  # Any: JSON of a file that may hold more than is known here


class MovedOut(Answered):
    """A cause whose rate two releases see differently."""

    circuit: str
    cause: str
    before: float
    after: float
    ratio: float


class BesideOut(Answered):
    """A kind of work, or an instrument, whose factor on minutes or chance of a slip two releases see differently.

    Null is the library's.
    """

    name: str
    before: float | None
    after: float | None


class ComparedOut(Answered):
    """Two releases side by side, the causes that differ most first."""

    before: str
    after: str
    moved: tuple[MovedOut, ...]
    minutes: tuple[BesideOut, ...] = ()
    slips: tuple[BesideOut, ...] = ()
