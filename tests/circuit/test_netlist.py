"""Netlists: what may be built, and what a floating one says."""

from __future__ import annotations

import dataclasses
import math

import pytest
from networks import GROUND, battery, fuse, netlist, resistor

from advisor.circuit.logic import parse
from advisor.circuit.netlist import OPEN, Element, Output, Relay, Unit, lamp_element
from advisor.errors import FloatingNodeError

LOOP = (battery(12), resistor("R", "plus", GROUND, 10.0))


@pytest.mark.parametrize("ohms", [0.0, -1.0, math.nan])
def test_an_element_needs_a_positive_resistance(ohms):
    """Zero, negative and undefined resistances are refused with the element's name and the value."""
    with pytest.raises(ValueError, match=f"element R needs a positive resistance, not {ohms}"):
        resistor("R", "a", "b", ohms)


def test_an_element_has_two_ends():
    """Both ends at one node are refused with the node's name."""
    with pytest.raises(ValueError, match="element R has both ends at node a"):
        resistor("R", "a", "a", 1.0)


def test_an_element_has_a_known_kind():
    """A kind that the solver does not know is refused, not solved as a resistor."""
    with pytest.raises(
        ValueError, match="element X is a 'diode', expected one of conductor, source, fuse, lamp, motor, winch, driver"
    ):
        Element("X", "diode", "a", "b", 1.0)


def test_a_lamp_has_a_rated_voltage():
    """A lamp without rated voltage, whose law has no scale, is refused."""
    with pytest.raises(ValueError, match="lamp L needs a positive rated voltage"):
        Element("L", "lamp", "a", "b", 10.0)


def test_a_fuse_has_a_rating():
    """A fuse rated at nothing is refused."""
    with pytest.raises(ValueError, match="fuse F needs a positive rating"):
        fuse("F", "a", "b", 0.0)


def test_ids_are_unique():
    """Two elements of one name, of which faults could reach only one, are refused."""
    with pytest.raises(ValueError, match="two elements are called R"):
        netlist(*LOOP, resistor("R", "plus", GROUND, 5.0))


def test_outputs_switch_drivers():
    """A unit whose output names no driver of the netlist is refused."""
    always = parse("mode == run", {"mode": ("run",)})
    unit = Unit("unit", "plus", GROUND, 7.0, (), (Output("R", always),))
    with pytest.raises(ValueError, match="no driver is called R"):
        netlist(*LOOP, units=(unit,))


@pytest.mark.parametrize("value", [LOOP[1], netlist(*LOOP)])
def test_values_do_not_change(value):
    """Elements and netlists are frozen."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        value.id = "other"


def test_indices():
    """Nodes come in the order of the elements, the reference is -1, ends are node indices."""
    circuit = netlist(*LOOP, fuse("F", "plus", "m", 5), lamp_element("L", "m", GROUND, watts=21, volts=12))
    assert circuit.nodes == ("plus", "m")
    assert circuit.node_index == {GROUND: -1, "plus": 0, "m": 1}
    assert circuit.ends.tolist() == [[0, 0, 0, 1], [-1, -1, 1, -1]]
    assert circuit.of_kind("fuse").tolist() == [2]
    assert circuit.element_index["L"] == 3
    assert circuit.column("ohms")[3] == pytest.approx(144 / 21)


def test_altered_leaves_the_original():
    """Altering gives a new netlist with some resistances replaced and elements added at the end."""
    circuit = netlist(*LOOP)
    other = circuit.altered({"R": OPEN}, [resistor("J", "plus", GROUND, 1.0)])
    assert [e.ohms for e in other.elements][1:] == [OPEN, 1.0]
    assert circuit.elements == LOOP


def test_a_grounded_netlist_passes():
    """Open switches count as paths: a circuit does not float because a switch is off."""
    netlist(*LOOP, resistor("switch", "plus", "m", OPEN)).require_grounded()


def test_floating_nodes_are_named_with_reasons():
    """Nodes without any path are named, with the elements between which a wire is missing."""
    circuit = netlist(*LOOP, resistor("L", "x", "y", 1.0))
    with pytest.raises(FloatingNodeError, match="no path to the battery from: x, y") as caught:
        circuit.require_grounded()
    assert caught.value.reasons == ("a wire is missing between L and the rest of the circuit",)


def test_a_missing_ground_is_told():
    """A circuit in which nothing touches the reference says that the ground is missing."""
    circuit = netlist(battery(12, "plus", "minus"), resistor("R", "plus", "minus", 10.0))
    with pytest.raises(FloatingNodeError) as caught:
        circuit.require_grounded()
    assert any("the ground is missing" in reason for reason in caught.value.reasons)
    assert not any("no battery" in reason for reason in caught.value.reasons)


def test_a_missing_battery_is_told():
    """Floating parts of a circuit without any source say that there is no battery."""
    with pytest.raises(FloatingNodeError) as caught:
        netlist(resistor("R", "a", "b", 10.0)).require_grounded()
    assert any("no battery" in reason for reason in caught.value.reasons)


@pytest.mark.parametrize(
    ("coil", "driver", "said"), [("S", "R", "no coil is called S"), ("R", "R", "no driver is called R")]
)
def test_a_relay_names_its_coil_and_a_driver(coil, driver, said):
    """A relay whose coil or contacts are no element of the netlist is refused."""
    with pytest.raises(ValueError, match=said):
        dataclasses.replace(netlist(*LOOP), relays=(Relay("K", coil, 8.0, driver),))


def test_a_motor_has_a_rated_force():
    """A motor whose winding leaves nothing to turn with is refused."""
    with pytest.raises(ValueError, match="motor M needs a positive rated voltage"):
        Element("M", "motor", "a", "b", 1.0, volts=-1.0)
