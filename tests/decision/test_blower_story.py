"""What the blower's printed chart forgets: the melted plug, and the motor that opens every next thermal fuse."""

import pytest

import advisor
from advisor.decision.advise import decide
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.simulation import Scene, simulate
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding

COMPLAINT = SymptomFinding("only-full-works")


@pytest.fixture(scope="module")
def model():
    """The shipped circuit."""
    return advisor.load("blower")


@pytest.fixture(scope="module")
def blower():
    """The circuit's schematic."""
    return read_schematic(shipped_circuits()["blower"])


def share(model, causes, *findings):
    """Share of some causes after some findings."""
    return sum(c.probability for c in decide(model, findings).causes if f"{c.part}/{c.mode}" in causes)


@pytest.mark.parametrize(
    ("speed", "percent", "amps"), [("one", 30, 2.2), ("two", 44, 4.4), ("three", 58, 7.3), ("four", 91, 16.7)]
)
def test_each_speed(blower, speed, percent, amps):
    """At speed u the motor takes i = 20 (0.1 u + 0.9 u^2) A and leaves 12.6 - 10.3 u - 0.11 i V for the resistors.

    That is 4.08 + 0.05 + 0.07 ohm at speed one (u = 0.30: 2.22 A, 9.27 V) with wires and contacts, and so on;
    at full speed the whole run of wires and contacts has 0.08 ohm (u = 0.91: 16.7 A, 1.4 V).
    """
    load = simulate(blower, Scene({"blower": speed})).loads["blower-motor"]
    assert 100 * load.share == pytest.approx(percent, abs=1)
    assert load.amps == pytest.approx(amps, abs=0.1)


def test_a_dragging_motor_opens_the_thermal_fuse_and_still_runs_at_full_speed(blower):
    """1.8 times the torque takes 8.6 A at speed three, the thermal fuse stands 8.1 A (1.35 x 6 A)."""
    found = simulate(blower, Scene({"blower": "four"}, ["blower-motor/drag"]))
    assert found.blown_fuses == ("thermal-fuse",)
    assert found.loads["blower-motor"].look == "full"
    assert simulate(blower, Scene({"blower": "three"}, ["blower-motor/drag"])).loads["blower-motor"].look == "stopped"


def test_a_seized_motor_opens_its_fuse(blower):
    """A hundred amps of stall current open F16, rated 30 A, and leave the thermal fuse whole."""
    assert simulate(blower, Scene({"blower": "four"}, ["blower-motor/seized"])).blown_fuses == ("F16",)


def test_key_off_lets_the_relay_go(blower):
    """Without the ignition the coil has no current; welded contacts feed the motor all the same."""
    assert simulate(blower, Scene({"ignition": "off", "blower": "four"})).drivers["K5"] is False
    welded = simulate(blower, Scene({"ignition": "off", "blower": "four"}, ["K5/welded"]))
    assert welded.drivers["K5"] is False
    assert welded.loads["blower-motor"].look == "full"


def test_an_open_coil_stops_every_speed(blower):
    """The coil has its 12.6 V and no current, so the contacts stay apart."""
    found = simulate(blower, Scene({"blower": "two"}, ["K5/coil-open"]))
    assert found.drivers["K5"] is False
    assert found.nodes["X8/86"] - found.nodes["X8/85"] == pytest.approx(12.6, abs=0.05)
    assert found.loads["blower-motor"].look == "stopped"


def test_the_blind_spot_is_ranked_and_marked(model):
    """The melted plug and the dragging motor are ranked after the complaint, and marked as not on the chart."""
    on_chart = {f"{c.part}/{c.mode}": c.on_chart for c in decide(model, [COMPLAINT]).causes}
    assert on_chart["thermal-fuse/open"] is True
    assert on_chart["resistor-high/open"] is True
    for cause in ("X50/4/high-resistance", "X50/4/open", "blower-motor/drag"):
        assert on_chart[cause] is False
        assert share(model, {cause}, COMPLAINT) > 0.03


def test_the_plug_is_told_from_the_thermal_fuse(model):
    """Supply on the plug's wire side, nothing in the resistors; a plug that looks burnt takes over from the fuse."""
    plug, fuse = {"X50/4/open", "X50/4/high-resistance"}, {"thermal-fuse/open"}
    found = [COMPLAINT, ReadingFinding("volts.X50-4.one", 12.6)]
    assert share(model, fuse, *found) > share(model, plug, *found)
    found.append(OutcomeFinding("inspect.X50.key-off", "damage"))
    assert share(model, plug, *found) > 2 * share(model, fuse, *found)


def test_a_motor_is_listened_to(model):
    """The test names the ear, its outcomes are a motor's, and it costs no place to open."""
    test = model.tests["look.blower-motor.four"]
    assert test.title == "Listen to the blower motor"
    assert [outcome.id for outcome in test.outcomes] == ["stopped", "slow", "full"]
    assert test.instrument == "eye"
