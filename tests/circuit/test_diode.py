"""Diodes and relays that hold, by hand and against the outside judge."""

import shutil

import numpy as np
import pytest
from networks import GROUND, battery, netlist, resistor
from published.spice_judge import departures, inconsistent, judged

from advisor.circuit.netlist import Change, Element, Netlist, Relay
from advisor.circuit.solve import solve

VOLTS, OHMS = 0.7, 0.05


def diode(id, anode, cathode):
    """A diode as its two elements."""
    inner = f"{id}/inner"
    junction = Element(id, "source", anode, inner, OHMS / 2, volts=VOLTS)
    return junction, Element(f"{id}/driver", "driver", inner, cathode, OHMS / 2)


def with_diodes(*elements):
    """A netlist whose diodes are told by their drivers."""
    plain = netlist(*elements)
    drivers = tuple(e.id for e in elements if e.kind == "driver")
    return Netlist(plain.reference, plain.elements, (), {}, (), drivers)


@pytest.mark.parametrize(("volts", "expected"), [(12.0, (12.0 - 0.7) / 10.1), (0.5, 0.0), (-12.0, 0.0)])
def test_a_diode_conducts_one_way_above_its_threshold(volts, expected):
    """Current is (E - 0.7) / R forward and next to nothing below the threshold or backwards (by hand)."""
    ends = ("plus", GROUND) if volts > 0 else (GROUND, "plus")
    source = Element("E", "source", *ends, 0.05, abs(volts))
    circuit = with_diodes(source, *diode("D", "plus", "k"), resistor("R", "k", GROUND, 10.0))
    found = solve(circuit, [[]])
    assert found.at("k")[0] / 10.0 == pytest.approx(expected, abs=2e-7)


def test_a_bridge_agrees_with_the_judge():
    """Four diodes feed a load from either side; the outside simulator finds the same state and voltages."""
    legs = [*diode("D1", "a", "p"), *diode("D2", "b", "p"), *diode("D3", "n", "a"), *diode("D4", "n", "b")]
    rest = (resistor("R", "p", "n", 20.0), resistor("RG", "n", GROUND, 1e4), resistor("RB", "b", GROUND, 0.1))
    for ends in (("a", "b"), ("b", "a")):
        circuit = with_diodes(Element("E", "source", *ends, 0.1, 12.0), *legs, *rest)
        found = solve(circuit, [[]], circuit.nodes)
        load = found.at("p") - found.at("n")
        assert load[0] == pytest.approx((12.0 - 1.4) * 20.0 / (20.0 + 0.2), abs=5e-3)
        if shutil.which("ngspice"):
            volts = judged(found)
            assert departures(found, volts) + inconsistent(found, volts) == []


def test_a_relay_holds_where_its_own_load_pulls_the_supply_down():
    """Behind 0.5 ohm a load of 0.7 ohm leaves 7 V: in at 8 V it stays in, and without holding it would chatter."""
    parts = [battery(12.6, ohms=0.5), resistor("coil", "plus", GROUND, 85.0), resistor("load", "c", GROUND, 0.7)]
    circuit = netlist(*parts, Element("contacts", "driver", "plus", "c", 0.003))
    held = Netlist(circuit.reference, circuit.elements, (), {}, (Relay("K", "coil", 8.0, "contacts", 1.5),))
    found = solve(held, [[], [Change(held.element_index["coil"], "add", 100.0)]])
    assert found.on[:, 0].tolist() == [True, False]  # with 100 ohm before the coil it never pulls in
    assert not found.unsteady.any()
    assert np.isclose(found.at("plus")[0], 12.6 * 0.697 / (0.5 + 0.697), atol=0.05)
