"""What a parked vehicle takes, and messages between its units, worked by hand on the battery drain."""

import pytest

import advisor
from advisor.decision.advise import decide
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.simulation import Scene, simulate
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding

PARKED = {"ignition": "off", "door": "closed", "glovebox": "shut"}
DRAW, LAMPS, UNIT = "draw.body-strap.parked", "fuse-drop.F34.parked", "fuse-drop.F36.parked"


@pytest.fixture(scope="module")
def drain():
    """The battery drain's schematic."""
    return read_schematic(shipped_circuits()["battery-drain"])


@pytest.fixture(scope="module")
def model():
    """The same, compiled."""
    return advisor.load("battery-drain")


def parked(drain, *faults, test=None, **settings):
    """The parked van with some faults."""
    return simulate(drain, Scene({**PARKED, **settings}, faults, test=test))


def test_the_sound_van_takes_forty_milliamps(drain):
    """20 mA the body unit, 5 the door unit, 12.6 the tracker, 2.7 by the pull-up of 4.7 kohm: 40 mA, .13 of .3 A."""
    found = parked(drain, test=DRAW)
    assert found.shown.value == pytest.approx(0.040, abs=0.001)
    assert found.loads["standing"].share == pytest.approx(0.040 / 0.3, abs=0.003)
    assert found.loads["standing"].look == "strong"


def test_a_glovebox_lamp_is_read_at_its_fuse(drain):
    """5 W at 13.5 V are 0.37 A, 0.36 A at 12.6 V; F34 shows it, F36 does not; the weekend leaves it flat."""
    lamp = parked(drain, "glovebox-switch/stuck-closed", test=LAMPS)
    assert lamp.shown.value == pytest.approx(0.36, abs=0.01)
    assert lamp.loads["standing"].look == "flat"
    assert parked(drain, "glovebox-switch/stuck-closed", test=UNIT).shown.value == pytest.approx(0.040, abs=0.001)


def test_no_message_counts_as_an_open_door(drain):
    """The link silent: the dome lamp is lit with the door closed, the unit awake; 0.85 and 0.84 A empty the battery."""
    found = parked(drain, "door-link/silent", test=DRAW)
    assert (found.loads["dome-lamp"].look, found.loads["standing"].look) == ("lit", "flat")
    assert found.shown.value == pytest.approx(0.037 + 0.85 + 12.6 / 15.3, abs=0.03)


def test_a_stuck_message_hides_an_open_door(drain):
    """The link keeps saying closed: with the door open neither dome lamp nor tell-tale lights."""
    for faults, look in (((), "lit"), (("door-link/stuck",), "dark")):
        loads = parked(drain, *faults, ignition="run", door="open").loads
        assert {loads[load].look for load in ("dome-lamp", "door-lamp")} == {look}


def test_what_the_fuses_show_leads_to_the_consumer(model):
    """A flat battery and 0.36 A through F34 alone point at the glovebox; 1.7 A by two fuses at the unit's message."""
    flat = SymptomFinding("flat-after-standing")
    glove = decide(model, [flat, ReadingFinding(LAMPS, 0.36), ReadingFinding(UNIT, 0.04)], depth=1)
    assert glove.causes[0].part == "glovebox-switch"
    both = [flat, ReadingFinding(LAMPS, 0.85), ReadingFinding(UNIT, 0.86)]
    awake = decide(model, [*both, OutcomeFinding("look.door-lamp.key-on", "lit")], depth=1)
    told = {cause.part for cause in awake.causes if cause.probability > 0.05}
    assert told <= {"door-link", "body-unit"}
    assert awake.causes[0].part == "door-link"
