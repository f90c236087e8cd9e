"""Findings of the request as findings of the domain."""

import fakes
import pytest

from advisor.contract.evidence import to_findings
from advisor.contract.request import AdviceRequest
from advisor.network.findings import DeclinedFinding, OutcomeFinding, ReadingFinding, RepairFinding, SymptomFinding

TEST = "volts.C12-1.reminding"


def found(*findings: object) -> tuple[object, ...]:
    """Give the domain's findings of a request."""
    request = AdviceRequest.model_validate({"circuit": "belt-reminder", "findings": list(findings)})
    return to_findings(request, fakes.MODEL)


@pytest.mark.parametrize(
    ("sent", "value"),
    [
        ({"test": TEST, "reading": {"value": 11.8, "unit": "V"}}, ReadingFinding(TEST, 11.8)),
        ({"kind": "reading", "test": TEST, "value": 11800, "unit": "mV"}, ReadingFinding(TEST, 11.8)),
        ({"kind": "reading", "test": TEST, "over_range": True}, ReadingFinding(TEST, None)),
        ({"test": TEST, "over_range": True}, ReadingFinding(TEST, None)),
        ({"test": TEST, "reading": {"over_range": True}}, ReadingFinding(TEST, None)),
        ({"test": TEST, "outcome": "low"}, OutcomeFinding(TEST, "low")),
        ({"kind": "outcome", "test": TEST, "outcome": "low"}, OutcomeFinding(TEST, "low")),
        ({"kind": "declined", "test": TEST}, DeclinedFinding(TEST)),
        ({"kind": "repair", "repair": "replace-lamp"}, RepairFinding("replace-lamp")),
        ({"repair": "replace-lamp", "result": "back"}, RepairFinding("replace-lamp", "back")),
        ({"kind": "reading", "test": TEST, "value": 11.8, "unit": ""}, ReadingFinding(TEST, 11.8)),
        ({"symptom": "lamp-stays-dark"}, SymptomFinding("lamp-stays-dark")),
        ({"kind": "symptom", "symptom": "lamp-stays-on", "present": False}, SymptomFinding("lamp-stays-on", False)),
    ],
)
def test_both_forms_mean_the_same(sent, value):
    """The tagged and the short form give the same finding."""
    assert found(sent) == (value,)


def test_findings_keep_their_order():
    """The nth finding of the request is the nth of the domain, so that pointers fit."""
    sent = found(*fakes.GOOD_REQUEST["findings"])
    assert [type(item).__name__ for item in sent] == [
        "SymptomFinding",
        "OutcomeFinding",
        "ReadingFinding",
        "ReadingFinding",
        "SymptomFinding",
    ]
