"""How to find out from which side a connector is read, as an answer tells it."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.contract.frozen import Answered
from advisor.decision.advice import Bearings
from advisor.knowledge.catalogue import Test


class BearingsOut(Answered):
    """A test that tells from which side a connector is read: what it shows read rightly, and mirrored.

    `bits` is what it tells of the side, 1 at most; `text` says all of it in a sentence.
    """

    test: str
    connector: str
    right: str
    mirrored: str
    bits: float
    text: str


def bearings_out(found: Bearings, tests: Mapping[str, Test]) -> BearingsOut:
    """Word what finds one's bearings."""
    test = tests[found.test]
    said = (
        f"Find your bearings at {found.connector} ({test.condition_text}): {test.title[:1].lower()}{test.title[1:]} is"
    )
    shown = f"{said} “{found.right}” from the right side, “{found.mirrored}” from the other"
    return BearingsOut(
        test=found.test,
        connector=found.connector,
        right=found.right,
        mirrored=found.mirrored,
        bits=found.bits,
        text=f"{shown}.",
    )
