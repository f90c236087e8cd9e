"""What the complaint's own test says after a repair, where whatever shows a complaint goes on showing it.

A cause shows a symptom with a chance that belongs to the vehicle, not to the look: a link that was there before a
repair is there after it (J. de Kleer, B. C. Williams, "Diagnosing multiple faults", Artificial Intelligence 32, 1987,
persistence; a worked case in the tests).  So all looks of a case share one number u, uniform between 0 and 1: the
symptom shows where u is below P(symptom shows | hypothesis), before a repair and after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from advisor.network.worlds import Floats

Result = Literal["stays", "gone", "back"]

MISREAD = 0.01
"""Chance that the complaint's test is misread, then each result alike: common practice, no source."""
RETURNS = 0.5
"""Of faults that hide from a look, those that have come back by the time they are asked about: judgement, no source."""


@dataclass(frozen=True)
class Proof:
    """How the complaint's test came out after a repair.

    Attributes:
        result: The symptom stays, is gone, or was gone and is back.
        shows: P(symptom shows) where each path stands, shape (P,).
        hides: P(it does not at one look, though its fault is there), shape (P,).
        misread: Chance that the test is misread.
    """

    result: Result
    shows: Floats
    hides: Floats
    misread: float = MISREAD

    def given(self, level: Floats) -> Floats:
        """P(result | u) at some numbers u, shape (segments, P)."""
        on = level < self.shows
        chance = {
            "stays": on * (1.0 - self.hides),
            "gone": np.where(on, (1.0 - RETURNS) * self.hides, 1.0),
            "back": on * RETURNS * self.hides,
        }[self.result]
        given: Floats = (1.0 - self.misread) * chance + self.misread / 3.0
        return given


def proved(before: Floats, base: Floats, proofs: Sequence[Proof]) -> list[Floats]:
    """P(each result | complaint, results before it) of every path, shape (P,) each.

    Args:
        before: P(symptom shows) where each path began, shape (P,).
        base: P(it is reported | it does not show), shape (P,); 1 where it was not reported.
        proofs: In their order.
    """
    joint = [_joint(before, base, proofs[:count]) for count in range(len(proofs) + 1)]
    return [np.divide(both, first, out=np.zeros_like(both), where=first > 0.0) for first, both in pairwise(joint)]


def _joint(before: Floats, base: Floats, proofs: Sequence[Proof]) -> Floats:
    """P(complaint, results) of every path: what is constant between the levels, summed over u, shape (P,)."""
    levels = [np.zeros_like(before), before, *(proof.shows for proof in proofs), np.ones_like(before)]
    ends = np.sort(np.stack(levels), axis=0)
    middle, width = (ends[1:] + ends[:-1]) / 2.0, np.diff(ends, axis=0)
    chance = np.where(middle < before, 1.0, base)
    for proof in proofs:
        chance = chance * proof.given(middle)
    joint: Floats = (width * chance).sum(axis=0)
    return joint
