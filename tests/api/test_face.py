"""Drawings of connectors."""

import fakes

from api.face import draw


def test_cavities_stand_in_rows():
    """Ten cavities in two rows stand five by five, the probed one marked."""
    face = draw(fakes.SCHEMATIC.connectors["C12"], {"7": "red"}, mirrored=False)
    by_name = {cell.name: cell for cell in face.cells}
    assert by_name["1"].x == by_name["6"].x < by_name["2"].x
    assert by_name["1"].y < by_name["6"].y
    assert [cell.name for cell in face.cells if cell.role == "red"] == ["7"]
    assert "red at cavity 7" in face.words


def test_the_mating_side_is_the_mirror_image():
    """Seen from the other side left and right change places."""
    wire, mating = (draw(fakes.SCHEMATIC.connectors["C12"], {}, mirrored=side) for side in (False, True))
    assert wire.cells[0].x == mating.cells[4].x
    assert (wire.side, mating.side) == ("wire side", "mating side")
