"""What a drawing proves about symptoms: against removed nodes one by one, and against solved circuits."""

from itertools import combinations

import numpy as np
import pytest
from networks import battery, driver, netlist, resistor
from oracles import two_ways_by_removal
from shipped_models import drawn, small_model

from advisor.circuit.logic import parse
from advisor.circuit.netlist import OPEN, Change, Input, Output, Unit
from advisor.circuit.solve import solve
from advisor.knowledge.library import FaultMode
from advisor.knowledge.reach import Loops, proofs, two_ways
from advisor.knowledge.wiring import Cause

CIRCUITS = drawn("reach")


@pytest.mark.parametrize("seed", range(200))
def test_two_ways_are_cut_by_no_single_node(seed):
    """Two ways without a common node exist where no removed node parts start from goal (Menger's theorem)."""
    rng = np.random.default_rng(seed)
    nodes = [f"n{i}" for i in range(int(rng.integers(4, 9)))]
    every = list(combinations(nodes, 2))
    edges = [every[i] for i in rng.choice(len(every), size=int(rng.integers(3, len(every))), replace=False)]
    start, goal = (tuple(map(str, rng.choice(nodes, 2, replace=False))) for _ in range(2))
    assert two_ways(edges, start, goal) == two_ways_by_removal(edges, start, goal)


CIRCUIT = netlist(
    battery(12.0, ohms=0.05),
    resistor("fuse", "plus", "fed", 0.1),
    resistor("switch", "fed", "out", OPEN),
    resistor("lamp-wire", "out", "top", 0.2),
    resistor("lamp", "top", "0", 10.0),
    resistor("second", "out", "0", 10.0),
    resistor("other", "fed", "0", 50.0),
    resistor("to-supply", "top", "plus", OPEN),
    resistor("to-ground", "top", "0", OPEN),
)


def cause(element, value, name="closed", kind="set"):
    """A fault that changes one element."""
    index = CIRCUIT.element_index[element]
    return Cause(element, FaultMode(name, 1.0, "open", "this test"), ((Change(index, kind, value),),))


CAUSES = (
    cause("switch", 0.1), cause("fuse", OPEN), cause("to-supply", 0.1), cause("to-ground", 0.1),
    cause("lamp-wire", 5.0, kind="add"), cause("other", OPEN), cause("second", OPEN),
)  # fmt: skip


def test_only_what_closes_a_loop_lights_the_lamp():
    """The stuck switch and the short to supply are needed; a short to ground, opens and resistances are not."""
    needs, closed = Loops(CIRCUIT, CAUSES).needs(CIRCUIT.element_index["lamp"])
    assert [c.part for c, needed in zip(CAUSES, needs, strict=True) if needed] == ["switch", "to-supply"]
    assert closed == [CIRCUIT.element_index["to-ground"]]


def test_sets_without_what_is_needed_are_dark_when_solved():
    """Of all sets of these faults, exactly those that the proof lets pass put a voltage across the lamp."""
    needs, _ = Loops(CIRCUIT, CAUSES).needs(CIRCUIT.element_index["lamp"])
    sets = [s for k in range(len(CAUSES) + 1) for s in combinations(range(len(CAUSES)), k)]
    solution = solve(CIRCUIT, [sum((CAUSES[c].variants[0] for c in s), ()) for s in sets])
    lit = np.abs(solution.at("top")) > 1e-3
    able = np.array([any(needs[c] for c in s) for s in sets])
    assert not lit[~able].any()
    assert lit[able].any()


def test_a_load_that_runs_without_a_fault_needs_none():
    """Where the sound circuit feeds a load, nothing is proved."""
    needs, _ = Loops(CIRCUIT, CAUSES).needs(CIRCUIT.element_index["other"])
    assert needs.all()


@pytest.mark.parametrize(
    ("condition", "able"), [("a == low", True), ("a == low and a == high", False), ("key == off", False)]
)
def test_an_output_counts_where_its_condition_can_hold(condition, able):
    """A driver is taken as on if its condition holds for some levels of its unit's inputs as the controls are set."""
    on_when = parse(condition, {"a": ("low", "high"), "key": ("on", "off")})
    unit = Unit("unit", "plus", "0", 6.0, (Input("a", "in", 3.0),), (Output("unit/driver", on_when),))
    circuit = netlist(
        battery(12.0), resistor("pull-up", "plus", "in", 1000.0), resistor("pull-down", "in", "0", 1e5),
        resistor("lamp", "plus", "return", 10.0), driver("unit/driver", "return", "0"),
        units=(unit,), settings={"key": "on"},
    )  # fmt: skip
    assert Loops(circuit, ()).carry(circuit.element_index["lamp"]) is able


NOTHING_PROVED = {
    "reversing-lamps": "where G6 is open the fuel gauge's current finds a way through the lamps; not enough",
    "battery-drain": "for some level of what it hears the unit lights the dome lamp; what is parked always draws",
}
"""Circuits without a symptom that needs a fault of its own: the drawing alone does not say how little flows."""


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_no_solved_hypothesis_shows_what_is_proved_impossible(circuit):
    """Under every enumerated set without a needed cause, the symptom is no likelier than its ceiling."""
    model, proved = small_model(circuit), 0
    for symptom, proof in enumerate(proofs(model.wiring)):
        unable = ~model.worlds.holds[:, proof.needs].any(axis=1)
        assert (model.compiled.presence[unable, symptom] <= proof.otherwise + 1e-12).all()
        assert model.compiled.needs[symptom].tolist() == proof.needs.tolist()
        assert model.compiled.otherwise[symptom] == proof.otherwise
        proved += not proof.needs.all()
        if not proof.needs.all():
            able = model.worlds.holds[:, proof.needs].any(axis=1)
            assert model.compiled.presence[able, symptom].max() > 0.9
    assert proved > 0 or circuit in NOTHING_PROVED
