"""Faces of connectors: rows, mirror image, halves, marks, and words for whoever does not see them."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import fakes
import pytest
from shipped_models import CIRCUITS, small_model

from advisor.drawing.face import SIDES, Face, face, face_svg, face_text
from advisor.knowledge.documents import Connector, Schematic

AT = fakes.AT


def drawn(connector: Connector) -> Schematic:
    """Give a schematic that has this connector."""
    return replace(fakes.SCHEMATIC, connectors={connector.id: connector})


def grid(seen: Face) -> list[list[str]]:
    """Write a face's cavities down as they are seen."""
    rows = [["" for _ in range(seen.columns)] for _ in range(seen.rows)]
    for cavity in seen.cavities:
        rows[cavity.row][cavity.column] = cavity.name
    return rows


SIX = Connector("X1", "plug X1", "p", ("1", "2", "3", "4", "5", "6"), 2, AT, latch="top", key="left")


def test_cavities_stand_in_rows_as_in_the_file():
    """Looking at the wires the rows are the file's, and latch and key are where it says."""
    seen = face(drawn(SIX), "X1")
    assert grid(seen) == [["1", "2", "3"], ["4", "5", "6"]]
    assert (seen.latch, seen.key) == ("top", "left")


def test_the_contacts_are_the_mirror_image():
    """Looking at the contacts left and right change places, of cavities and of the key, and nothing else."""
    seen = face(drawn(SIX), "X1", "contacts")
    assert grid(seen) == [["3", "2", "1"], ["6", "5", "4"]]
    assert (seen.latch, seen.key) == ("top", "right")


def test_a_drawing_from_the_contacts_is_turned():
    """A file whose rows were taken from the contacts shows them so, and its mirror image at the wires."""
    schematic = drawn(replace(SIX, drawn_from="contacts"))
    assert grid(face(schematic, "X1", "contacts")) == [["1", "2", "3"], ["4", "5", "6"]]
    assert grid(face(schematic, "X1", "wires")) == [["3", "2", "1"], ["6", "5", "4"]]


def test_the_halves_of_an_inline_connector_face_each_other():
    """What half a shows at its wires, half b shows at its contacts: they are pushed together face to face."""
    schematic = drawn(replace(SIX, inline=True))
    for side, other in (SIDES, SIDES[::-1]):
        assert grid(face(schematic, "X1", side, half="a")) == grid(face(schematic, "X1", other, half="b"))


def test_the_text_is_a_grid_with_marks():
    """The terminal's form has the marked cavity in brackets, a point before unused ones, and the wires."""
    seen = face(fakes.SCHEMATIC, "C12", marks={"7": "probe"})
    lines = face_text(seen).splitlines()
    assert lines[2].split() == ["1", ".2", ".3", "4", ".5"]
    assert lines[3].split() == [".6", "[7]", ".8", "9", ".10"]
    assert any(line.split()[:2] == ["7", "W103"] for line in lines)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_every_face_is_sound_and_free_of_styles(circuit):
    """Every shipped connector is well-formed SVG without scripts or style attributes, its cavities inside the shell."""
    schematic = small_model(circuit).schematic
    for plug in schematic.connectors.values():
        for side in SIDES:
            seen = face(schematic, plug.id, side, {plug.cavities[0]: "red"})
            root = ElementTree.fromstring(face_svg(seen))
            assert not [e for e in root.iter() if "style" in e.attrib or e.tag.endswith("script")]
            shell, *boxes = [e.attrib for e in root.iter() if e.get("class", "").split(" ")[0] in {"shell", "cavity"}]
            assert len(boxes) == len(plug.cavities)
            assert all(inside(box, shell) for box in boxes)
            assert len({(box["x"], box["y"]) for box in boxes}) == len(boxes)
            words = [e.text for e in root if e.tag.endswith(("title", "desc"))]
            assert plug.title in words[0]
            assert f"red lead at cavity {plug.cavities[0]}" in words[1]


def inside(inner: dict[str, str], outer: dict[str, str]) -> bool:
    """Tell whether one rectangle lies in another."""
    one, all_ = ([float(box[key]) for key in ("x", "y", "width", "height")] for box in (inner, outer))
    return all(one[i] > all_[i] and one[i] + one[i + 2] < all_[i] + all_[i + 2] for i in (0, 1))


def test_a_title_cannot_break_out():
    """What a file says is text in a drawing, whatever it looks like."""
    title = '<script>alert(1)</script> & "X"'
    root = ElementTree.fromstring(face_svg(face(drawn(replace(SIX, title=title)), "X1")))
    assert root[0].text == f"{title}, looking at the wires"
