"""Reasons in a technician's words."""

import math

import fakes
import pytest

from advisor.contract import service
from advisor.contract.reasons import measured, reason_text, reasons_out
from advisor.decision.advice import FindingReason, OddFinding, Reasons
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding

INPUT, LOOK = "volts.C12-7.reminding", "look.belt-lamp.prove-out"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (12.4499, "V", "12.4 V"),
        (0.1, "V", "0.1 V"),
        (0.0949, "V", "0.09 V"),
        (0.0031, "V", "0 V"),
        (-0.001, "V", "0 V"),
        (-12.56, "V", "-12.6 V"),
        (0.509, "ohm", "0.51 ohm"),
        (128.03, "ohm", "130 ohm"),
        (999.0, "ohm", "1 kohm"),
        (1234.0, "ohm", "1.2 kohm"),
        (2.04e6, "ohm", "2 Mohm"),
        (math.inf, "ohm", "over range"),
        (13.32, "A", "13 A"),
        (2.5e-8, "A", "0 A"),
    ],
)
def test_values_are_rounded_as_they_are_read(value, unit, text):
    """Tenths of a volt, hundredths where a tenth says nothing, two digits of ohms and amps."""
    assert measured(value, unit) == text


@pytest.mark.parametrize(
    ("finding", "predicted", "sound", "text"),
    [
        (ReadingFinding(INPUT, 12.5), 12.41, 0.3, "with this fault 12.4 V are predicted here; you read 12.5 V; in"),
        (ReadingFinding(INPUT, 12.5), 12.41, 0.3, "in the sound circuit 0.3 V"),
        (ReadingFinding(INPUT, 12.5), None, 0.3, "with this fault a reading that never settles is predicted here"),
        (OutcomeFinding(INPUT, "high"), 12.41, 0.3, "you noted: a voltage stands here; in the sound circuit 0.3 V"),
        (OutcomeFinding(LOOK, "lit"), 0.0, 1.0, "with this fault the lamp would be dark; you saw it lit; in the sound"),
        (OutcomeFinding(LOOK, "lit"), 0.3, 1.0, "would be dim; you saw it lit; in the sound circuit it would be lit"),
        (SymptomFinding("lamp-stays-on"), 0.98, 0.0, "this fault gives this complaint; it is reported"),
        (SymptomFinding("lamp-stays-on", present=False), 0.3, 0.0, "now and then; it is said not to be the case"),
        (SymptomFinding("lamp-stays-on"), 0.01, 0.0, "this fault alone does not give this complaint; it is reported"),
    ],
)
def test_sentences(finding, predicted, sound, text):
    """What the fault shows, what was found, what the sound circuit shows, after the name of the finding."""
    said = reason_text(fakes.MODEL, finding, FindingReason(0, 1.0, 1.0, predicted, sound))
    assert text in said
    assert said.startswith(
        ("Switch input of the belt unit: ", "Look at the belt lamp at key-on: ", "belt lamp stays on")
    )


@pytest.mark.parametrize(
    ("finding", "check"),
    [
        (ReadingFinding(INPUT, 12.5), "check its cavity"),
        (OutcomeFinding(LOOK, "lit"), "look again"),
        (SymptomFinding("lamp-stays-on"), "ask the customer again"),
    ],
)
def test_the_odd_finding_comes_with_what_to_check(finding, check):
    """What to check again depends on how the finding was made."""
    odd = reasons_out(fakes.MODEL, [finding], Reasons((), OddFinding(0, None, 0.7))).odd_finding
    assert check in odd.text
    assert (odd.finding, odd.decibans, odd.slip) == (0, None, 0.7)


def test_reasons_come_only_when_asked_for():
    """Without the key there are none; with it, each finding that is evidence is named by its place."""
    assert service.answer_body(fakes.GOOD_REQUEST, fakes.engine()).reasons is None
    declined = {"kind": "declined", "test": "volts.X31-1.reminding"}
    findings = [declined, *fakes.GOOD_REQUEST["findings"]]
    found = service.answer_body({**fakes.GOOD_REQUEST, "findings": findings, "reasons": True}, fakes.engine())
    assert [cause.cause for cause in found.reasons.causes] == [cause.cause for cause in found.causes[:2]]
    assert [reason.finding for reason in found.reasons.causes[0].findings] == [1, 2, 3, 4, 5]
    # Right nine times in ten, else wrong: the reading is nine to one for the switch, 10 log10 of 9 decibans.
    assert found.reasons.causes[0].findings[2].decibans_in_turn == pytest.approx(9.5424, abs=1e-4)
