"""An alternator whose regulator lets it give what it can, worked by hand on the charge lamp's circuit."""

import pytest

import advisor
from advisor.decision.advise import decide
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.simulation import Scene, simulate
from advisor.network.findings import ReadingFinding, SymptomFinding

POSTS, UNLIMITED = "volts.B+.running", "limit/none"


@pytest.fixture(scope="module")
def charge():
    """The charge lamp's schematic."""
    return read_schematic(shipped_circuits()["charge-warning-lamp"])


def running(charge, *faults, test=POSTS):
    """The engine running with some faults."""
    return simulate(charge, Scene({"ignition": "run", "engine": "running"}, faults, test=test))


def test_the_sound_alternator_charges_at_fourteen_volts(charge):
    """At the posts 14.0 +- 0.5 V after ten minutes: TM 5-3895-382-24, table 33; the battery is still, the lamp out."""
    found = running(charge)
    assert found.shown.value == pytest.approx(14.0, abs=0.5)
    assert (found.loads["charging"].look, found.loads["charge-lamp"].look) == ("still", "dark")


def test_without_a_limit_the_battery_boils(charge):
    """By Ohm's law: 17.6 - .7 - 12.6 V drive 4.3 / 1.9 of the sound current through the same ohms, so that it boils.

    The posts are at 12.6 V and that times .05 ohm and twice .0005, by which what goes in and out is counted: 15.3 V.
    """
    sound, found = running(charge), running(charge, UNLIMITED)
    amps = found.loads["charging"].share * 40.0
    assert amps == pytest.approx(sound.loads["charging"].share * 40.0 * 4.3 / 1.9, rel=0.03)
    assert found.shown.value == pytest.approx(12.6 + 0.051 * amps, abs=0.005)
    assert (found.loads["charging"].look, found.loads["charge-lamp"].look) == ("boils", "dark")
    assert (found.shown.outcome.id, sound.shown.outcome.id) == ("high", "normal")


def test_the_limit_does_nothing_while_the_engine_stands(charge):
    """The stator is as good as cut off: the posts rest at 12.6 V, with and without it."""
    for faults in ((), (UNLIMITED,)):
        found = simulate(charge, Scene({"ignition": "off", "engine": "stopped"}, faults, test="volts.B+.key-out"))
        assert found.shown.value == pytest.approx(12.6, abs=0.01)


def test_a_reading_decides():
    """The posts are read first; 15.3 V condemn the regulator, 13.9 V leave no fault that is listed likely."""
    model = advisor.load("charge-warning-lamp")
    told = [SymptomFinding("overcharges")]
    assert decide(model, told, depth=1).next.id == POSTS
    high = decide(model, [*told, ReadingFinding(POSTS, 15.3)], depth=1)
    assert high.next.id == "renew-regulator"
    assert high.causes[0].probability > 0.95
    assert "boiling-battery" in high.repairs[0].cautions
    usual = decide(model, [*told, ReadingFinding(POSTS, 13.9)], depth=1)
    assert usual.causes[0].probability < 0.5
