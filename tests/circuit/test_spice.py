"""Decks: every element, every node, the state in comments, and nothing that a title could smuggle in."""

from __future__ import annotations

from networks import GROUND, battery, driver, fuse, netlist, resistor

from advisor.circuit.logic import parse
from advisor.circuit.netlist import OPEN, Change, Element, Output, Unit, lamp_element
from advisor.circuit.solve import solve
from advisor.circuit.spice import deck, node_name

ALWAYS = parse("mode == run", {"mode": ("run", "off")})
UNIT = Unit("unit", "X1/1", GROUND, 7.0, (), (Output("unit/lamp/driver", ALWAYS),))
CIRCUIT = netlist(
    battery(12.6, "B+", ohms=0.008),
    fuse("F1", "B+", "X1/1", 5),
    lamp_element("lamp", "X1/1", "X1-1", watts=2, volts=12),
    driver("unit/lamp/driver", "X1-1", GROUND),
    resistor("shunt", "X1/1", GROUND, OPEN),
    units=(UNIT,),
    settings={"mode": "run"},
)


def lines_of(text: str, start: str) -> list[str]:
    """Lines of a deck that begin in some way."""
    return [line for line in text.splitlines() if line.startswith(start)]


def test_every_element_and_node_is_written():
    """Resistors, source with its resistance, lamp as its law, a leak at every node; open elements as comments."""
    text = deck(solve(CIRCUIT, [[]]), 0, "title")
    assert lines_of(text, "V") == ["V0_e emf_0_e 0 DC 12.6"]
    assert lines_of(text, "R0") == ["R0_e n0_b emf_0_e 0.008"]
    assert lines_of(text, "B") == [
        "B2_lamp n1_x1_1 n2_x1_1 I=v(n1_x1_1,n2_x1_1)/72*max(abs(v(n1_x1_1,n2_x1_1))/12, 0.00399778517563)^(-0.45)"
    ]
    assert lines_of(text, "R3") == ["R3_unit_lamp_driver n2_x1_1 0 0.5"]
    assert lines_of(text, "Rleak") == [f"Rleak{i} {name} 0 1000000000" for i, name in enumerate(names())]
    assert "* conductor shunt from n1_x1_1 to 0 is open" in text
    assert text.splitlines()[-2:] == [".op", ".end"]


def names() -> list[str]:
    """Node names of the circuit in its decks."""
    return [node_name(CIRCUIT, node) for node in CIRCUIT.nodes]


def test_names_that_look_alike_stay_apart():
    """X1/1 and X1-1 have different names, and the table of comments maps both back."""
    assert len(set(names())) == 3
    text = deck(solve(CIRCUIT, [[]]), 0, "title")
    assert lines_of(text, "* node") == [
        "* node 0 = 0",
        "* node n0_b = B+",
        "* node n1_x1_1 = X1/1",
        "* node n2_x1_1 = X1-1",
    ]


def test_the_state_is_told():
    """Settings, drivers and fuses of the row are in the head; a blown fuse and a driver that is off are left out."""
    solution = solve(CIRCUIT, [[], [Change(4, "set", 0.1)]])
    sound, shorted = deck(solution, 0, "title"), deck(solution, 1, "title")
    for line in ("* set: mode = run", "* driver unit/lamp/driver: on", "* fuse F1: whole"):
        assert line in sound
    for line in ("* driver unit/lamp/driver: off", "* fuse F1: blown", "* fuse F1 from n0_b to n1_x1_1 is open"):
        assert line in shorted
    assert not lines_of(shorted, "R1")


def test_a_title_stays_a_comment():
    """Several lines, control characters and other scripts in a title make comments in ASCII, never cards."""
    text = deck(solve(CIRCUIT, [[]]), 0, "first\n.end\r\n.control\x0bshell rm\x00 für")
    assert text.isascii()
    assert all(line.startswith("*") for line in text.splitlines()[:6])
    assert [line for line in text.splitlines() if line.startswith(".")][1:] == [".op", ".end"]


def test_a_motor_is_written_as_its_law():
    """The part that turns is a current source, with either end at battery negative."""
    ends = (("plus", GROUND), (GROUND, "m"))
    motors = [Element(f"M{i}", "motor", a, b, 0.5, volts=10.0) for i, (a, b) in enumerate(ends)]
    text = deck(solve(netlist(battery(12), *motors, resistor("R", "plus", "m", 1.0)), [[]]), 0, "title")
    assert lines_of(text, "B") == [
        "B1_m0 n0_plus 0 I=v(n0_plus)/0.5*(0.1+0.9*abs(v(n0_plus))/10)",
        "B2_m1 0 n1_m I=-v(n1_m)/0.5*(0.1+0.9*abs(-v(n1_m))/10)",
    ]
