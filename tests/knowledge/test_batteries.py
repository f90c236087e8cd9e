"""A battery that is discharged, and cables whose severities are their own."""

import numpy as np
import pytest

from advisor.circuit.solve import solve
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.simulation import Scene, simulate
from advisor.knowledge.wiring import wire_up


@pytest.fixture(scope="module")
def starter():
    """The starter's schematic."""
    return read_schematic(shipped_circuits()["starter"])


def test_a_discharged_battery_rests_at_what_the_library_says(starter):
    """11.9 V at rest with the key on: the heater panel's light takes .24 A through .013 ohm, 3 mV."""
    found = simulate(starter, Scene({"start-key": "released", "clutch": "up"}, ["crank-battery/low"]))
    assert found.nodes["B+"] == pytest.approx(11.9, abs=0.01)


def test_a_discharged_battery_falls_by_its_own_resistance(starter):
    """Between rest and cranking it falls by current times R P / (R + P), R .013 ohm, P = R 11.9 / 0.7 = .221 ohm."""
    rest, crank = (
        simulate(starter, Scene({"start-key": key, "clutch": clutch}, ["crank-battery/low"]))
        for key, clutch in (("released", "up"), ("turned", "pressed"))
    )
    lamp, motor = (crank.loads[load].amps for load in ("heater-light", "starter-motor"))
    solution = crank.solution
    solenoid, relay = (
        abs(solution.currents[0, solution.netlist.element_index[id]]) for id in ("solenoid/coil", "K11/coil")
    )
    drawn = lamp + motor + solenoid + relay - rest.loads["heater-light"].amps
    inner = 0.013 * 0.221 / (0.013 + 0.221)
    assert rest.nodes["B+"] - crank.nodes["B+"] == pytest.approx(drawn * inner, rel=1e-3)


def test_a_cable_has_severities_of_its_own(starter):
    """The starter's cable goes from a hundredth of an ohm to three; a thin wire's range is the library's."""
    wiring = wire_up(starter)
    ohms = {c.id: [variant[0].value for variant in c.variants] for c in wiring.causes}
    assert np.allclose(ohms["starter-cable/high-resistance"], np.geomspace(0.01, 3.0, 9))
    assert np.allclose(ohms["W984/high-resistance"], np.geomspace(0.3, 30_000, 9))


@pytest.mark.parametrize(("ohms", "drop"), [(0.01, 1.43), (0.03, 4.1)])
def test_a_hundredth_of_an_ohm_costs_a_starter_a_volt_and_a_half(starter, ohms, drop):
    """143 A, a little less as it slows: 0.01 ohm takes 1.43 V between battery and terminal 30, and nothing at rest."""
    wiring = wire_up(starter)
    netlist = wiring.under(Setup(wiring.usual({})))
    cable = netlist.element_index["starter-cable"]
    sound, faulty = (
        solve(netlist.altered({"starter-cable": netlist.elements[cable].ohms + more}), [[]]) for more in (0.0, ohms)
    )
    lost = (faulty.at("B+") - faulty.at("post-30"))[0] - (sound.at("B+") - sound.at("post-30"))[0]
    assert lost == pytest.approx(drop, abs=0.1)
    rest = simulate(starter, Scene({"start-key": "released"}, ["starter-cable/high-resistance@0.1"]))
    assert rest.nodes["B+"] - rest.nodes["post-30"] == pytest.approx(0.0, abs=1e-6)
