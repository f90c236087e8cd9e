"""The sound starter, cranking, against the volts that printed manuals allow to be lost.

TM 10-3930-671-24 p. F-303: positive battery cable, bad above 0.4 V.  TM 9-2320-211-20 para (8): battery to solenoid and
solenoid to starter, 0.2 V each.  TM 5-2420-230-24-2 p. 13-33: starter control circuit, feed and ground, 12 V, 1.0 V.
At least 9.6 V at the battery: common practice, no source.
"""

import pytest

from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.simulation import Scene, simulate

LIMITS = {
    "cable": ("B+", "post-30", 0.2),
    "solenoid": ("post-30", "motor-post", 0.2),
    "ground": ("engine-block", "B-", 0.4),
}


@pytest.fixture(scope="module")
def cranking():
    """Voltages of the sound circuit, by node."""
    return simulate(read_schematic(shipped_circuits()["starter"]), Scene({})).nodes


@pytest.mark.parametrize(("red", "black", "most"), LIMITS.values(), ids=LIMITS)
def test_a_sound_path_loses_no_more_than_is_allowed(cranking, red, black, most):
    """Each heavy path keeps its limit while 143 A flow, and does lose something."""
    assert 0.02 < cranking[red] - cranking[black] <= most


def test_the_control_circuit_loses_less_than_a_volt(cranking):
    """Battery to terminal 50, and the solenoid's ground back to the battery, together."""
    assert 0.1 < cranking["B+"] - cranking["X113/1"] + cranking["engine-block"] - cranking["B-"] <= 1.0


def test_the_battery_holds(cranking):
    """9.6 V at least are left at the posts."""
    assert cranking["B+"] >= 9.6
