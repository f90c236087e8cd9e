"""Why a cause stands where it does, in a technician's words: what it would show, what was found, what is sound."""

from __future__ import annotations

import math
from collections.abc import Sequence

from advisor.contract.engine import KnownModel
from advisor.contract.frozen import Answered
from advisor.decision.advice import CauseReasons, FindingReason, OddFinding, Reasons
from advisor.knowledge.catalogue import Test
from advisor.network.findings import (
    DeclinedFinding,
    Finding,
    OutcomeFinding,
    ReadingFinding,
    RepairFinding,
    SymptomFinding,
)

OFTEN, SELDOM = 0.5, 0.1
"""Chance of a complaint from which a fault is said to give it, and to give it now and then: judgement, no source."""
LEAST_AMPS = 0.005
"""What a clamp shows as nothing [A]: half the last digit of a common one, common practice, no source."""
RECHECKS = {
    "clamp": "zero the clamp, put it around this wire alone and read again",
    "ohms": "check that the power is off and the plug apart, zero the leads and measure again",
    "look": "set the condition up again and look again",
    "inspect": "look again under better light",
}
RECHECK = "check its cavity, the side that the plug is seen from, and the value again"
SAID = {
    None: "it is reported",
    True: "it is reported, and that it comes and goes",
    False: "it is reported, and that it is there always",
}
PROVED = {"stays": "the complaint stays", "gone": "the complaint is gone", "back": "the complaint was gone and is back"}
PROVE_AGAIN = "set the complaint's condition up again and look again"
ASK_AGAIN = "ask the customer again, and see the complaint for yourself"


class FindingReasonOut(Answered):
    """What one finding, named by its place in the request, says of a cause.

    Weights of evidence in decibans, plus for the cause: on top of the findings before it, and on top of all others;
    null where the odds have no end.
    """

    finding: int
    decibans_in_turn: float | None
    decibans_left_out: float | None
    text: str


class CauseReasonsOut(Answered):
    """What all findings say of one cause."""

    cause: str
    findings: tuple[FindingReasonOut, ...]


class OddFindingOut(Answered):
    """The finding that fits the others worst, and what to check again.

    `decibans` is by how much the conflict falls without it, null where it does not; `slip` is the probability that
    it is a wrong place or a misread value.
    """

    finding: int
    decibans: float | None
    slip: float
    text: str


class ReasonsOut(Answered):
    """Reasons for and against the first causes of the ranking, and the finding that does not fit."""

    causes: tuple[CauseReasonsOut, ...]
    odd_finding: OddFindingOut | None


def reasons_out(model: KnownModel, findings: Sequence[Finding], reasons: Reasons) -> ReasonsOut:
    """Word the reasons of an advice on these findings."""
    return ReasonsOut(
        causes=tuple(_cause(model, findings, cause) for cause in reasons.causes),
        odd_finding=_odd(model, findings, reasons.odd) if reasons.odd else None,
    )


def _cause(model: KnownModel, findings: Sequence[Finding], cause: CauseReasons) -> CauseReasonsOut:
    return CauseReasonsOut(
        cause=f"{cause.part}/{cause.mode}",
        findings=tuple(
            FindingReasonOut(
                finding=reason.finding,
                decibans_in_turn=reason.in_turn,
                decibans_left_out=reason.left_out,
                text=reason_text(model, findings[reason.finding], reason),
            )
            for reason in cause.findings
        ),
    )


def reason_text(model: KnownModel, finding: Finding, reason: FindingReason) -> str:
    """Say what the fault would show, what was found, and what the sound circuit shows."""
    title, sentence = _title(model, finding), _sentence(model, finding, reason)
    return f"{title} {sentence[0].upper()}{sentence[1:]}" if title.endswith("?") else f"{title}: {sentence}"


def _sentence(model: KnownModel, finding: Finding, reason: FindingReason) -> str:
    if isinstance(finding, SymptomFinding):
        said = SAID[finding.comes_and_goes] if finding.present else "it is said not to be the case"
        return f"this fault {_gives(reason.predicted or 0.0)}; {said}"
    if isinstance(finding, RepairFinding):
        return PROVED.get(finding.result or "", "the complaint was not looked for")
    assert not isinstance(finding, DeclinedFinding), "a declined test is no evidence"
    test = model.tests[finding.test]
    fault, sound = _shown(test, reason.predicted), _shown(test, reason.sound)
    if test.kind == "inspect":
        return f"with this fault damage shows {fault}; you noted: {_seen(test, finding)}; in the sound circuit {sound}"
    if test.kind == "table":  # a test of a table has outcomes and nothing that is read
        return (
            f"with this fault most likely: {fault}; you noted: {_seen(test, finding)}; where nothing is wrong: {sound}"
        )
    if not test.unit:
        what, eye = _watched(test), _SENSE.get(test.observed.kind, "saw")
        found = _seen(test, finding)
        return (
            f"with this fault {what} would be {fault}; you {eye} it {found}; in the sound circuit it would be {sound}"
        )
    verb = "are" if reason.predicted is not None and math.isfinite(reason.predicted) else "is"
    found = f"you read {_seen(test, finding)}" if isinstance(finding, ReadingFinding) else _noted(test, finding)
    return f"with this fault {fault} {verb} predicted here; {found}; in the sound circuit {sound}"


def _gives(chance: float) -> str:
    if chance >= OFTEN:
        return "gives this complaint"
    return "gives this complaint now and then" if chance >= SELDOM else "alone does not give this complaint"


def _noted(test: Test, finding: OutcomeFinding) -> str:
    return f"you noted: {_seen(test, finding)}"


_SENSE = {"motor": "heard", "horn": "heard", "heater": "felt"}
"""How one watches a load, by its kind, where not by eye."""


def _seen(test: Test, finding: OutcomeFinding | ReadingFinding) -> str:
    if isinstance(finding, ReadingFinding):
        return measured(math.inf if finding.value is None else finding.value, test.unit)
    return _state(next(outcome.label for outcome in test.outcomes if outcome.id == finding.outcome))


def _shown(test: Test, value: float | None) -> str:
    if value is None:
        return "a reading that never settles"
    if test.kind == "inspect":
        return f"in about {round(10.0 * value)} of 10 cases" if value >= 0.05 else "in hardly any case"
    if test.unit:
        return measured(value, test.unit)
    return next((_state(o.label) for o in test.outcomes if o.low <= value < o.high), f"at {value:.0%}")


def _state(label: str) -> str:
    return f"at {label}" if label.endswith("speed") else label


def _watched(test: Test) -> str:
    if test.kind == "lamp":
        return "the test lamp"
    return f"the {test.observed.kind or 'lamp'}"


def measured(value: float, unit: str) -> str:
    """Give a reading as a technician says it: tenths of a volt, two digits of all else.

    >>> measured(12.49, "V"), measured(0.031, "V"), measured(0.001, "V"), measured(1234.0, "ohm"), measured(0.567, "A")
    ('12.5 V', '0.03 V', '0 V', '1.2 kohm', '0.57 A')
    """
    if math.isinf(value):
        return "over range"
    if unit == "V":
        text = f"{value:.1f}" if abs(value) >= 0.095 else f"{value:.2f}"
        return "0 V" if float(text) == 0.0 else f"{text} V"
    return "0 A" if unit == "A" and abs(value) < LEAST_AMPS else _two_digits(value, unit)


def _two_digits(value: float, unit: str) -> str:
    rounded = float(f"{value:.1e}")
    for factor, prefix in ((1e6, "M"), (1e3, "k")):
        if unit == "ohm" and abs(rounded) >= factor:
            return f"{rounded / factor:g} {prefix}{unit}"
    return f"{rounded:g} {unit}"


def _title(model: KnownModel, finding: Finding) -> str:
    if isinstance(finding, SymptomFinding):
        return model.schematic.symptoms[finding.symptom].title
    if isinstance(finding, RepairFinding):
        return f"After {finding.repair}"
    return model.tests[finding.test].title


def _odd(model: KnownModel, findings: Sequence[Finding], odd: OddFinding) -> OddFindingOut:
    finding = findings[odd.finding]
    text = f"this finding fits the others worst: {_title(model, finding).rstrip('?')}; {_recheck(model, finding)}"
    return OddFindingOut(finding=odd.finding, decibans=odd.surprise, slip=odd.slip, text=text)


def _recheck(model: KnownModel, finding: Finding) -> str:
    if isinstance(finding, SymptomFinding):
        return ASK_AGAIN
    if isinstance(finding, RepairFinding):
        return PROVE_AGAIN
    return RECHECKS.get(model.tests[finding.test].kind, RECHECK)
