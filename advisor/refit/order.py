"""One order as it tells: its columns that bear on what was wrong, and where its repairs stand among its findings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

from advisor.contract.request import AnyFindingIn, RepairIn
from advisor.network.proving import Result

_RESULTS: dict[str, Result] = {text: text for text in get_args(Result)}


@dataclass(frozen=True)
class Order:
    """What an order tells beside its count: the columns of a pattern that bear on what was wrong.

    `came_back` is "yes", "no" or "" for not known; `followed_days` [days] is for how long somebody would know.  With
    `first` only what was found before anything was repaired counts.
    """

    symptom: str
    findings: str = "[]"
    repairs: str = ""
    came_back: str = ""
    followed_days: float = 0.0
    first: bool = False


def in_stretches(
    sent: Sequence[AnyFindingIn], repairs: Sequence[RepairIn], *, first: bool = False
) -> Sequence[AnyFindingIn]:
    """Put the repairs of an order where they were done among its findings.

    Where the findings do not say, all repairs are after them, but for a test that is answered again: a repair is
    before that.

    Args:
        sent: Findings in their order, repairs among them or not.
        repairs: What was repaired, in order, for findings that do not say.
        first: Give only what was found before any repair.
    """
    told: list[AnyFindingIn] = []
    left = list(repairs) if not any(isinstance(finding, RepairIn) for finding in sent) else []
    answered: set[str] = set()
    for finding in sent:
        test = str(getattr(finding, "test", ""))  # symptoms and repairs have none
        again = bool(test) and test in answered
        if first and (again or isinstance(finding, RepairIn)):
            return told
        if again and left:
            told.append(left.pop(0))
        if again or isinstance(finding, RepairIn):
            answered.clear()
        answered.add(test)
        told.append(finding)
    return told if first else [*told, *left]


def repairs_of(text: str) -> list[RepairIn]:
    """Repairs of "REPAIR result; REPAIR result"; a result that nobody knows is none."""
    done = []
    for item in filter(None, (part.strip() for part in text.split(";"))):
        name, _, result = item.partition(" ")
        done.append(RepairIn(repair=name, result=_RESULTS.get(result.strip())))
    return done
