"""What circuits of a vehicle share, and how a neighbour is drawn beside a circuit."""

import shutil

import numpy as np
import pytest
from networks import GROUND, battery, netlist, resistor

from advisor.circuit.netlist import Change, lamp_element
from advisor.circuit.solve import solve
from advisor.errors import KnowledgeError
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.sharing import leading
from advisor.knowledge.shipped import shipped
from advisor.knowledge.shortening import shortened
from advisor.knowledge.wiring import wire_up

CIRCUITS = "quellmar-p3/circuits"


@pytest.fixture
def models(tmp_path):
    """A copy of the shipped model files."""
    return shutil.copytree(shipped("models"), tmp_path / "models")


def test_what_hangs_with_one_end_in_the_air_is_left_out():
    """A fuse with nothing behind it goes, then the wire that fed it alone; what leads back to a used node stays."""
    shared = {
        "wire": frozenset({"bus", "fuse-in"}),
        "fuse": frozenset({"fuse-in", "fuse-out"}),
        "battery": frozenset({"bus", "ground"}),
        "lamp": frozenset({"bus", "ground"}),
    }
    assert leading(shared, {}) == {"battery", "lamp"}
    assert leading(shared, {"own": frozenset({"fuse-out", "ground"})}) == {"battery", "lamp", "fuse", "wire"}


def test_a_circuit_has_the_shared_items_that_it_uses():
    """The reversing lamps have fuse F12, which sits in the vehicle; the blower has not."""
    folder = shipped("models") / CIRCUITS
    assert "F12" in read_schematic(folder / "reversing-lamps.yaml").parts
    assert "F12" not in read_schematic(folder / "blower.yaml").parts


def test_a_name_stands_for_one_thing_in_the_whole_vehicle():
    """Circuits that share nothing today may tomorrow: no two of them draw something of the same name."""
    schematics = [read_schematic(path) for path in sorted((shipped("models") / CIRCUITS).glob("*.yaml"))]
    drawn, twice = {}, set()
    for one in schematics:
        sections = (one.junctions, one.connectors, one.parts, one.wires, one.splices, one.grounds)
        for id, value in ((id, value) for section in sections for id, value in section.items()):
            if drawn.setdefault(id, value) != value:
                twice.add(id)
    assert twice == set()


SOURCES = {
    "starter": {"crank-battery", "stator", "limit"},
    "charge-warning-lamp": {"cell", "stator", "limit"},
    "battery-drain": {"parked-battery", "alternator"},
    "belt-reminder": {"battery", "alternator"},
}
"""By the files: a circuit keeps its own battery; an alternator drawn in full stands for one that cannot fail."""


@pytest.mark.parametrize("circuit", SOURCES)
def test_a_vehicle_has_one_battery_and_one_alternator(circuit):
    """However many circuits that redraw them are drawn side by side; each asks next door by what they share."""
    schematic = read_schematic(shipped("models") / CIRCUITS / f"{circuit}.yaml")
    kinds = {part.id: schematic.library.types[part.type].kind for part in schematic.parts.values()}
    assert {id for id, kind in kinds.items() if kind == "source"} == SOURCES[circuit]
    shared = {id for door in schematic.next_door for id in door.shares}
    assert shared & {"engine-strap", "G4"}


def test_a_strap_that_loses_volts_is_heard_next_door():
    """A tenth of an ohm in the engine strap: 143 A would lose 14 V, so the starter that shares it cannot crank.

    The charge lamp, whose 0.17 A lose 17 mV, does not tell.
    """
    wiring = wire_up(read_schematic(shipped("models") / CIRCUITS / "charge-warning-lamp.yaml"))
    door = wiring.schematic.next_door[0].normal
    found = {}
    for normal in (door, wiring.schematic.normal["key-on"]):
        netlist = wiring.under(Setup(wiring.usual(normal.when)))
        strap = Change(netlist.element_index["engine-strap"], "add", 0.1)
        solution, load = solve(netlist, [[], [strap]]), next(iter(normal.sees))
        found[load] = solution.shown(load, 12.6)
    assert found["starter-motor"][0] > 0.9
    assert found["starter-motor"][1] < 0.5
    assert np.ptp(found["charge-lamp"]) < 0.02


@pytest.mark.parametrize("ohms", [0.05, 0.5])
def test_a_look_that_this_battery_does_not_allow_is_left_out(models, ohms):
    """With .05 ohm inside the charge circuit's battery no starter cranks well, with .5 its relays chatter."""
    path = models / CIRCUITS / "charge-warning-lamp.yaml"
    path.write_text(path.read_text("utf-8").replace("{stopped: 0.008,", f"{{stopped: {ohms},"), "utf-8")
    assert read_schematic(path).next_door == ()


def test_series_of_good_conductors_add_up(rng):
    """Nodes that stay have the same voltages once chains of good conductors are one."""
    chain = ["plus", "a", "b", "c", "load"]
    ohms = rng.uniform(0.01, 3.0, len(chain) - 1)
    wires = [resistor(f"W{i}", *pair, r) for i, (*pair, r) in enumerate(zip(chain, chain[1:], ohms, strict=False))]
    rest = [battery(12.6), lamp_element("L", "load", GROUND, watts=21, volts=12)]
    whole = netlist(*rest, *wires)
    short = netlist(*shortened([*rest, *wires], {w.id for w in wires}, {"b"}))
    assert set(whole.nodes) - set(short.nodes) == {"a", "c"}
    for node in short.nodes:
        assert np.isclose(solve(whole, [[]]).at(node), solve(short, [[]]).at(node), atol=1e-6)


def test_a_name_that_two_neighbours_draw_is_a_problem(models):
    """A wire called alike in two circuits that share a ground is told, with what to do."""
    path = models / CIRCUITS / "cooling-fan.yaml"
    path.write_text(path.read_text("utf-8").replace("W601:", "W501:"), "utf-8")
    with pytest.raises(KnowledgeError, match="both draw 'W501'; draw it in the vehicle, or rename"):
        read_schematic(models / CIRCUITS / "horn.yaml")


def test_a_control_that_two_neighbours_set_otherwise_is_a_problem(models):
    """A control has the same values in all circuits of a vehicle that are solved together."""
    path = models / CIRCUITS / "cooling-fan.yaml"
    text = path.read_text("utf-8").replace("  pressure: [usual, raised]", "  horn: [usual, raised]")
    path.write_text(text.replace("pressure == raised", "horn == raised").replace("pressure: raised", "horn: raised"))
    with pytest.raises(KnowledgeError, match="control 'horn' has other values"):
        read_schematic(models / CIRCUITS / "horn.yaml")
