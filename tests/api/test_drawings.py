"""What pages draw: the connectors of a test, the circuit with its suspects."""

from dataclasses import replace
from types import SimpleNamespace
from xml.etree import ElementTree

import fakes
from forms import get, opened

from api.drawings import circuit, faces


def probing(*points, jumper=None, instrument="voltmeter"):
    """Give what a drawing reads of a test."""
    probe = [SimpleNamespace(connector=name, cavity=cavity) for name, cavity in points]
    return SimpleNamespace(probe=probe, condition=SimpleNamespace(jumper=jumper), instrument=instrument)


def test_both_leads_are_drawn_in_their_connectors():
    """Red and black in two connectors are two faces; a junction has none."""
    drawn = faces(probing(("C12", "7"), ("X31", "1/b")), fakes.SCHEMATIC, mirrored=False)
    assert [each.title for each in drawn] == [
        "belt unit plug C12, looking at the wires",
        "under-seat connector X31, half b, looking at the wires",
    ]
    assert "red lead at cavity 7" in drawn[0].svg
    assert "black lead at cavity 1" in drawn[1].svg
    assert faces(probing(("B+", "")), fakes.SCHEMATIC, mirrored=False) == ()


def test_a_jumper_is_drawn_where_it_bridges():
    """A jumper's ends are marked as such, whatever the test reads."""
    (drawn,) = faces(probing(jumper=("C12/7", "B-")), fakes.SCHEMATIC, mirrored=True)
    assert "jumper at cavity 7" in drawn.svg
    assert drawn.title.endswith("looking at the contacts")


def test_the_circuit_adds_up_the_modes_of_a_part():
    """A part's share is that of all its causes; the probed cavity is marked; a clamp marks none."""
    causes = [SimpleNamespace(part="F8", probability=p) for p in (0.2, 0.22)]
    drawn = circuit(fakes.SCHEMATIC, causes, probing(("C12", "7")))
    root = ElementTree.fromstring(drawn.svg)
    assert "4 in 10" in [e.text for e in root.iter()]
    assert [e.get("class") for e in root.iter() if "red" in e.get("class", "")] == ["probe red", "mark red"]
    assert "probe red" not in circuit(fakes.SCHEMATIC, [], probing(("W103", ""), instrument="clamp")).svg


def test_what_is_drawn_nowhere_has_no_drawing():
    """A model of tables has no circuit to draw."""
    assert circuit(replace(fakes.SCHEMATIC, wires={}), [], None) is None


def test_the_case_page_shows_both(client):
    """The page of a case holds the connector of its test and the circuit, inside a fold that needs no script."""
    case = opened(client).form("Keep these")[0].action.rpartition("/")[0]
    source = get(client, f"{case}?pick=volts.C12-7.reminding").source
    assert source.count('class="connector-face"') == 1
    fold = source.partition('<details class="circuit">')[2].partition("</details>")[0]
    assert 'class="circuit-drawing"' in fold
    assert "Circuit of" in fold
