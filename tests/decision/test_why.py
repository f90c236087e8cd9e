"""Reasons on the shipped belt reminder; values worked by hand from the schematic.

The pull-up is 1 kohm to the unit's supply.  Switch closed: 12.6 mA through some 0.2 ohm, 3 mV at the input.  Switch
wire open: nothing flows, so all of the supply stands there, 12.6 V less 25 mV by the lamps' current; a reading of
12.5 V says that the supply is a tenth lower.
"""

from dataclasses import replace

import numpy as np
import pytest

import advisor
from advisor.decision.advise import decide
from advisor.decision.next_step import RECHECK_ABOVE
from advisor.decision.reasons import EXPLAINED
from advisor.knowledge.prevalence import Vehicle
from advisor.network.findings import DeclinedFinding, OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.worlds import SPECIALS

COMPLAINT = SymptomFinding("lamp-stays-dark")
LIGHTS = OutcomeFinding("jumper.C12-9-to-ground.reminding", "lit")
INPUT = ReadingFinding("volts.C12-7.reminding", 12.5)
NO_SUPPLY = ReadingFinding("volts.C12-1.reminding", 0.0)
CASE = [COMPLAINT, LIGHTS, INPUT]


@pytest.fixture(scope="module")
def model():
    """The shipped circuit."""
    return advisor.load("belt-reminder")


def test_reasons_change_nothing_else(model):
    """The advice with reasons is the advice without them; it explains the first causes of the ranking, in order."""
    plain, explained = decide(model, CASE, depth=1), decide(model, CASE, depth=1, reasons=True)
    assert plain.reasons is None
    assert replace(explained, reasons=None) == plain
    ranked = [(cause.part, cause.mode) for cause in plain.causes[:EXPLAINED]]
    assert [(cause.part, cause.mode) for cause in explained.reasons.causes] == ranked


def test_an_open_switch_wire_lets_the_input_rise(model):
    """With an open wire the input is predicted at the supply, in the sound circuit at some 20 mV."""
    found = decide(model, CASE, depth=1, reasons=True).reasons
    opened = [cause for cause in found.causes if cause.mode in ("open", "stuck-open")]
    assert len(opened) == EXPLAINED - 1  # the other is ground G4, which the seat heater lifts
    for cause in opened:
        assert cause.findings[2].predicted == pytest.approx(12.5, abs=0.1)
        assert 0.0 < cause.findings[2].sound < 0.03
        assert cause.findings[2].in_turn > 0.0
        assert cause.findings[0].predicted > 0.9
        assert cause.findings[0].sound < 0.1


def test_weights_in_turn_lead_from_the_prior_to_the_ranking(model):
    """Prior odds and all weights in turn give the share in the ranking; a declined test is no finding."""
    findings = [COMPLAINT, DeclinedFinding("ohms.C12-7.key-off"), LIGHTS, INPUT]
    advice = decide(model, findings, depth=1, reasons=True)
    root = model.prior(Vehicle()).weights
    for share, cause in zip(advice.causes, advice.reasons.causes, strict=False):
        held = model.worlds.holds[:, model.worlds.causes.index(f"{cause.part}/{cause.mode}")]
        before = 10.0 * np.log10(root[held].sum() / root[~held].sum())
        after = before + sum(reason.in_turn for reason in cause.findings)
        assert 1.0 / (1.0 + 10.0 ** (-after / 10.0)) == pytest.approx(share.probability, rel=1e-9)
        assert [reason.finding for reason in cause.findings] == [0, 2, 3]


@pytest.mark.parametrize("absurd", range(4))
def test_an_absurd_reading_is_the_odd_finding(model, absurd):
    """No supply at a unit whose input shows the supply: that finding is odd wherever it stands, and probably a slip."""
    findings = [*CASE, ReadingFinding("ohms.C12-7.key-off", None)]
    assert decide(model, findings, depth=1, reasons=True).reasons.odd is None
    findings.insert(absurd, NO_SUPPLY)
    odd = decide(model, findings, depth=1, reasons=True).reasons.odd
    assert odd.finding == absurd
    assert odd.slip > 0.5
    assert odd.surprise > 3.0


def test_findings_that_conflict_without_a_slip(model):
    """The lamp is said to stay dark and seen lit, neither probably a slip: what a person saw is the likelier slip."""
    advice = decide(model, [COMPLAINT, OutcomeFinding("look.belt-lamp.reminding", "lit")], depth=1, reasons=True)
    assert advice.conflict_decibans > 0.0
    assert advice.expected_slips < RECHECK_ABOVE
    assert advice.reasons.odd.finding == 1
    assert advice.reasons.odd.surprise == pytest.approx(advice.conflict_decibans, abs=1e-6)


def test_the_severity_that_fits_is_the_one_predicted(model):
    """A reading that one severity of a lossy part gives is answered with the prediction of that severity."""
    predicted, worlds = model.predicted["volts.C12-1.reminding"], model.worlds
    singles = [SPECIALS + np.flatnonzero(worlds.severity_cause == c) for c in range(len(worlds.causes))]
    values = [predicted.value[predicted.row[rows]] for rows in singles]
    cause = max(range(len(values)), key=lambda c: np.ptp(values[c]))
    middle = float(values[cause][np.argmin(np.abs(values[cause] - 8.0))])
    assert np.sort(np.abs(values[cause] - middle))[1] > 1.0  # the next severity reads otherwise
    findings = [COMPLAINT, ReadingFinding(predicted.test.id, round(middle, 2))]
    found = decide(model, findings, depth=1, reasons=True).reasons.causes
    reasons = next(c.findings for c in found if f"{c.part}/{c.mode}" == worlds.causes[cause])
    assert reasons[1].predicted == pytest.approx(middle, abs=0.5)


def test_ohms_are_told_as_ohms(model):
    """An open wire is over range; the closed path is the leads and some 0.2 ohm."""
    findings = [*CASE, ReadingFinding("ohms.C12-7.key-off", None)]
    reason = decide(model, findings, depth=1, reasons=True).reasons.causes[0].findings[3]
    assert reason.predicted == np.inf
    assert 0.2 < reason.sound < 1.0
