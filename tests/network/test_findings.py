"""Findings are values."""

from dataclasses import FrozenInstanceError

import pytest

from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding


def test_equal_findings_are_one():
    """Findings compare and hash by what they say."""
    assert {SymptomFinding("dark"), SymptomFinding("dark", True)} == {SymptomFinding("dark")}
    assert SymptomFinding("dark") != SymptomFinding("dark", False)
    assert OutcomeFinding("feed", "none") == OutcomeFinding("feed", "none")
    assert ReadingFinding("feed", 11.8) != ReadingFinding("feed", None)


@pytest.mark.parametrize(
    "finding", [SymptomFinding("dark"), OutcomeFinding("feed", "none"), ReadingFinding("feed", 1.0)]
)
def test_findings_do_not_change(finding):
    """Nothing in a finding can be set afterwards."""
    with pytest.raises(FrozenInstanceError):
        setattr(finding, next(iter(vars(finding))), "other")
