"""One scene of a shipped circuit: hand-calculated values, the test's own setup, and names that do not exist."""

from __future__ import annotations

import pytest

from advisor.errors import UsageError
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.simulation import Scene, simulate

UNFASTENED = {"ignition": "run", "belt": "unfastened"}


@pytest.fixture(scope="module")
def belt():
    """Give the shipped belt reminder."""
    return read_schematic(shipped_circuits()["belt-reminder"])


@pytest.fixture(scope="module")
def reversing():
    """Give the shipped reversing lamps."""
    return read_schematic(shipped_circuits()["reversing-lamps"])


def test_the_sound_circuit(belt):
    """Belt unfastened: the unit's output is on, the lamp lit, the input pulled to ground, no fuse blown."""
    found = simulate(belt, Scene(UNFASTENED))
    assert found.drivers["belt-unit/lamp"] is True
    assert found.loads["belt-lamp"].look == "lit"
    assert found.nodes["C12/7"] == pytest.approx(0.02, abs=0.01)
    assert found.nodes["B-"] == 0.0
    assert found.blown_fuses == ()
    assert found.shown is None
    # 12.6 V through 1 kohm of pull-up.
    assert found.currents["buckle-switch"] == pytest.approx(12.6e-3, rel=0.01)


def test_an_open_switch_leaves_the_pull_up(belt):
    """With the buckle switch open the input stands at the pull-up's voltage and the lamp is dark."""
    found = simulate(belt, Scene(UNFASTENED, ["buckle-switch/stuck-open"]))
    assert found.drivers["belt-unit/lamp"] is False
    assert found.loads["belt-lamp"].look == "dark"
    assert found.nodes["C12/7"] == pytest.approx(12.6, abs=0.1)


def test_a_short_blows_a_fuse(reversing):
    """A wire shorted to the body blows the fuse before it, once in reverse and for good."""
    found = simulate(reversing, Scene({"gear": "neutral"}, ["W302/short-to-ground"]))
    assert found.blown_fuses == ("F12",)
    assert "F12" in simulate(reversing, Scene({"gear": "neutral"}, ["W301/short-to-ground"])).blown_fuses
    assert simulate(reversing, Scene({"gear": "neutral"})).blown_fuses == ()


def test_severities(belt):
    """The middle cell without a number, the nearest cell with one, and what was taken is told."""
    assert simulate(belt, Scene({}, ["G4/high-resistance"])).faults == ("G4/high-resistance@94.9",)
    assert simulate(belt, Scene({}, ["G4/high-resistance@2"])).faults == ("G4/high-resistance@1.27",)
    assert simulate(belt, Scene({}, ["G4/high-resistance@1e9"])).faults == ("G4/high-resistance@3e+04",)
    assert simulate(belt, Scene({}, ["G4/open"])).faults == ("G4/open",)


def test_a_test_brings_its_setup(belt):
    """Without settings the named test's own setup is used, jumper and plug included; with settings, theirs."""
    name = "volts.C12-7.fastened"
    found = simulate(belt, Scene({}, test=name))
    assert found.setup.settings["belt"] == "fastened"
    assert found.shown.value == pytest.approx(12.52, abs=0.02)
    assert found.shown.outcome.id == "normal"
    other = simulate(belt, Scene(UNFASTENED, test=name))
    assert other.setup.settings["belt"] == "unfastened"
    assert other.shown.value == pytest.approx(0.02, abs=0.01)
    assert other.shown.test.normal_value == pytest.approx(12.52, abs=0.02)
    jumper = simulate(belt, Scene({}, test="jumper.C12-9-to-ground.reminding"))
    assert jumper.setup.unplug == ("C12",)
    assert jumper.setup.jumper == ("C12/9", "B-")
    assert jumper.loads["belt-lamp"].look == "lit"
    assert jumper.shown.outcome.id == "lit"


def test_the_meter_loads_the_circuit(belt):
    """A floating input wire shows nothing on a 10 Mohm meter; behind 1 kohm nothing of its voltage is lost."""
    open_feed = simulate(belt, Scene({}, ["W103/open"], test="volts.X31-1-a.fastened"))
    assert open_feed.shown.value == pytest.approx(0.0, abs=0.01)
    assert open_feed.shown.spread > 0.4  # it wanders
    sound = simulate(belt, Scene({}, test="volts.X31-1-a.fastened"))
    assert sound.shown.value == pytest.approx(sound.nodes["X31/1/a"], rel=2e-4)


def test_unplugged_and_bridged(reversing):
    """With the switch unplugged the lamps are dark; a jumper across its plug lights both."""
    dark = simulate(reversing, Scene({"gear": "reverse"}, unplug=["X22"]))
    assert {dark.loads[lamp].look for lamp in ("reverse-left", "reverse-right")} == {"dark"}
    lit = simulate(reversing, Scene({"gear": "reverse"}, unplug=["X22"], jumper=("X22/1", "X22/2")))
    assert {lit.loads[lamp].look for lamp in ("reverse-left", "reverse-right")} == {"lit"}
    assert lit.currents["jumper"] == pytest.approx(3.0, abs=0.2)


@pytest.mark.parametrize(
    ("scene", "message"),
    [
        (Scene({"ignitoin": "run"}), "unknown control 'ignitoin', did you mean 'ignition'"),
        (Scene({"belt": "unfasten"}), "unknown value of belt 'unfasten', did you mean 'unfastened'"),
        (Scene({}, ["G4/opened"]), "unknown fault 'G4/opened', did you mean 'G4/open'"),
        (Scene({}, ["G4/open@3"]), "G4/open has no severities; leave out @3"),
        (Scene({}, ["G4/high-resistance@much"]), "positive resistance in ohms, not 'much'"),
        (Scene({}, ["G4/high-resistance@-1"]), "positive resistance in ohms, not '-1'"),
        (Scene({}, ["G4/high-resistance@nan"]), "positive resistance in ohms, not 'nan'"),
        (Scene({}, ["G4/open", "G4/high-resistance"]), "two faults of one part"),
        (Scene({}, unplug=["C21"]), "unknown connector 'C21', did you mean"),
        (Scene({}, jumper=("C12/9", "B")), "unknown node 'B'"),
        (Scene({}, jumper=("C12/9", "C12/9")), "the jumper has both ends at 'C12/9'"),
        (Scene({}, test="volts.C12-7.remind"), "unknown test 'volts.C12-7.remind', did you mean"),
        (Scene({}, test="ohms.buckle-switch.key-off"), "never done: beside a restraint"),
    ],
)
def test_unknown_names_are_told(belt, scene, message):
    """Every name that the circuit does not have is refused, with the nearest one that it has."""
    with pytest.raises(UsageError, match=message):
        simulate(belt, scene)
