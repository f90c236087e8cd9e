"""The same test done again: what agrees is one finding that is no misreading, and says little more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from advisor.network.findings import Finding, OutcomeFinding, ReadingFinding, RepairFinding

AGREE = 0.02
"""Readings that differ by no more than this share of the larger agree: judgement, no source."""


def repeats(findings: Sequence[Finding]) -> list[tuple[Finding, int]]:
    """Each finding with how often it was found; zero where an earlier one of the same test stands for it.

    A repeated reading is represented by its mean, since what spreads it is mostly the same each time.  After a repair
    nothing is repeated.
    """
    result = [(finding, 1) for finding in findings]
    first: dict[str, int] = {}
    for i, finding in enumerate(findings):
        if isinstance(finding, RepairFinding):
            first.clear()
        if not isinstance(finding, OutcomeFinding | ReadingFinding):
            continue
        leader = first.setdefault(finding.test, i)
        if leader != i and _agree(findings[leader], finding):
            known, times = result[leader]
            result[leader], result[i] = (_mean(known, finding, times), times + 1), (finding, 0)
    return result


def _agree(one: Finding, other: Finding) -> bool:
    if isinstance(one, ReadingFinding) and isinstance(other, ReadingFinding):
        if one.value is None or other.value is None:
            return one.value == other.value
        return abs(one.value - other.value) <= AGREE * max(abs(one.value), abs(other.value), 1.0)
    return isinstance(one, OutcomeFinding) and isinstance(other, OutcomeFinding) and one.outcome == other.outcome


def _mean(known: Finding, more: Finding, times: int) -> Finding:
    if not isinstance(known, ReadingFinding) or not isinstance(more, ReadingFinding) or known.value is None:
        return known
    return replace(known, value=(known.value * times + (more.value or 0.0)) / (times + 1))
