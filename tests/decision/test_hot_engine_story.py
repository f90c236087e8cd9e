"""Engine runs hot: what a technician concludes from a few looks.

Each line is common practice, no source: a fan that stands bridged has no feed or is dead itself; a cold hose behind a
hot thermostat housing is a shut thermostat; cold stripes in a hot radiator are blocked tubes; air from the bleed
screw with the level good is an air lock; fluid that turns is burning gas; a gauge above the engine lies.
"""

from __future__ import annotations

import pytest

import advisor

CASES = [
    ("hot-in-traffic", {"level": "between-marks", "fan": "stands", "fan-bridged": "runs"}, "fan-switch/stays-open"),
    (
        "hot-in-traffic",
        {"level": "between-marks", "fan": "stands", "fan-bridged": "stands", "fan-supply": "lit"},
        "fan-motor/stands",
    ),
    ("hot-in-traffic", {"level": "between-marks", "fan": "slow", "fan-bridged": "slow"}, "fan-motor/drags"),
    ("hot-in-traffic", {"fan": "runs", "fins": "clogged"}, "radiator/blocked-outside"),
    ("hot-at-speed", {"level": "between-marks", "fins": "clear", "radiator-map": "patches"}, "radiator/blocked-inside"),
    ("hot-at-speed", {"level": "between-marks", "belt-look": "bad", "radiator-map": "even"}, "belt/slips"),
    ("hot-everywhere", {"level": "between-marks", "thermostat-step": "cold", "heater": "hot"}, "thermostat/stuck-shut"),
    ("hot-everywhere", {"level": "low", "burning-gas": "stays"}, "coolant/low"),
    ("hot-everywhere", {"level": "between-marks", "bleed-screw": "air", "heater": "cold"}, "cooling-system/air-locked"),
    (
        "hot-everywhere",
        {"flow-in-tank": "weak", "bleed-screw": "coolant", "belt-look": "good", "level": "between-marks"},
        "water-pump/does-not-pump",
    ),
    ("pushes-coolant-out", {"burning-gas": "turns"}, "head-gasket/leaks"),
    ("pushes-coolant-out", {"cap-pressure": "vents"}, "cap/does-not-hold"),
    ("gauge-hot-engine-not", {"gauge-against-engine": "disagrees", "sender-unplugged": "falls"}, "sender/reads-hot"),
    ("gauge-hot-engine-not", {"gauge-against-engine": "disagrees", "sender-unplugged": "stays"}, "gauge/reads-hot"),
]


@pytest.fixture(scope="module")
def model():
    """The shipped table."""
    return advisor.load("engine-runs-hot")


@pytest.mark.parametrize(("symptom", "outcomes", "cause"), CASES, ids=[cause for *_, cause in CASES])
def test_what_a_technician_concludes(model, symptom, outcomes, cause):
    """The cause that a technician would name leads, and is more likely than not."""
    told = [{"symptom": symptom}, *({"test": test, "outcome": outcome} for test, outcome in outcomes.items())]
    first = advisor.advise(model, {"circuit": "engine-runs-hot", "findings": told}).causes[0]
    assert (first.cause, first.probability > 0.5) == (cause, True)


@pytest.mark.parametrize("symptom", ["hot-in-traffic", "hot-at-speed", "hot-everywhere"])
def test_the_level_is_looked_at_first(model, symptom):
    """Before anything is opened or warmed up, the coolant level: common practice, no source."""
    answer = advisor.advise(model, {"circuit": "engine-runs-hot", "findings": [{"symptom": symptom}]})
    assert (answer.next.kind, answer.next.id) == ("test", "level")
    assert answer.tests[0].minutes < 5.0


def test_reasons_name_the_likeliest_outcome():
    """A table has no readings: a reason names what is most likely seen with the fault, and where nothing is wrong."""
    findings = [
        {"symptom": "hot-in-traffic"},
        {"test": "fan", "outcome": "stands"},
    ]
    request = {"circuit": "engine-runs-hot", "findings": findings, "reasons": True}
    answer = advisor.advise(advisor.load("engine-runs-hot"), request)
    first = answer.reasons.causes[0]
    said = first.findings[1].text
    labels = {o.id: o.label for o in advisor.load("engine-runs-hot").tests["fan"].outcomes}
    assert "with this fault most likely: " in said
    assert labels["stands"].lower()[:6] in said.lower()
    assert first.findings[1].decibans_left_out > 0.0
