"""The plan for a case's complaint, as an answer."""

from __future__ import annotations

from pydantic import Field

from advisor.contract.frozen import Answered
from advisor.contract.plan_answer import PlanAnswer


class CasePlan(Answered):
    """The whole plan for the complaint of a case, as decided before anything was found: what was found is not in it."""

    case: str
    version: int
    release_changed: bool = Field(description="whether the plan comes from another release than the case began with")
    plan: PlanAnswer
