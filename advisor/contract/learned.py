"""What an answer says of minutes and slips that a release has learned."""

from __future__ import annotations

from advisor.contract.engine import KnownModel
from advisor.contract.frozen import Answered


class LearnedOut(Answered):
    """What the release with these priors says beside rates: factors on minutes by kind of work, slips by instrument."""

    priors: str
    minutes: dict[str, float]
    slips: dict[str, float]


def learned_out(model: KnownModel) -> LearnedOut | None:
    """Say what is learned; nothing where minutes and slips are the library's."""
    told = model.learned
    return LearnedOut(priors=model.priors, minutes=dict(told.minutes), slips=dict(told.slips)) if told else None
