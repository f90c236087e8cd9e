"""Shares and first tests that a technician expects of each complaint, against the models; see `expected_circuits`."""

from functools import cache

import pytest
from published.expected_circuits import FIRST, SHARES

import advisor
from advisor.decision.advise import decide
from advisor.network.findings import SymptomFinding


@cache
def advice(circuit, symptom):
    """What is advised right after a complaint, one step ahead."""
    return decide(advisor.load(circuit), [SymptomFinding(symptom)], depth=1)


def share(row):
    """Share of a row's group after its complaint."""
    return sum(
        c.probability
        for c in advice(row.circuit, row.symptom).causes
        if set(row.group) & {c.part, c.part.split("/")[0], f"{c.part}/{c.mode}"}
    )


@pytest.mark.parametrize("row", SHARES, ids=lambda row: f"{row.circuit}:{row.symptom}:{row.name}")
def test_share_of_a_group(row):
    """Each group's share lies in the expected range, or in the frozen range of a departure that has a reason."""
    low, high = row.departs or row.expected
    assert low <= share(row) <= high
    assert bool(row.departs) == bool(row.reason)


@pytest.mark.parametrize("row", FIRST, ids=lambda row: f"{row.circuit}:{row.symptom}")
def test_what_is_tested_first(row):
    """One of the first three tests is among those that a technician would do first."""
    found = advice(row.circuit, row.symptom)
    first = [test.test for test in found.tests[:3]]
    assert any(id.startswith(row.departs or row.expected) for id in first), first
    assert bool(row.departs) == bool(row.reason)
