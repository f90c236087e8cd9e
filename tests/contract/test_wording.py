"""Names in front of a reader."""

import fakes
import pytest

from advisor.contract import wording


@pytest.mark.parametrize(
    ("node", "title"),
    [
        ("B-", "battery negative post"),
        ("G4", "ground point G4 under the driver's seat"),
        ("C12/7", "C12 cavity 7, wire GNWH"),
        ("X31/1/a", "X31 cavity 1, half a, wire GNWH"),
        ("C12/10", "C12 cavity 10"),
        ("nowhere", "nowhere"),
    ],
)
def test_points_to_probe(node, title):
    """A point is named by what it is and the wire that ends there."""
    assert wording.node_title(fakes.SCHEMATIC, node) == title


def test_unknown_parts_keep_their_id():
    """What the schematic does not name is shown by its id, without a place."""
    assert wording.part_title(fakes.SCHEMATIC, "odd") == "odd"
    assert wording.part_place(fakes.SCHEMATIC, "odd") is None
    assert wording.place_title(fakes.SCHEMATIC, "odd") == "odd"
