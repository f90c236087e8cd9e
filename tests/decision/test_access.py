"""Getting at places."""

import pytest

from advisor.decision.access import access_minutes
from advisor.knowledge.documents import Place
from advisor.knowledge.places import path

PLACES = {
    "seat": Place("seat", "under the seat", 5, 5, "footwell"),
    "buckle": Place("buckle", "buckle", 15, 10, "footwell", inside="seat"),
    "dash": Place("dash", "dashboard", 6, 6, "dry-cabin"),
}


def test_path_goes_outwards():
    """A place is reached through what it is inside of."""
    assert path(PLACES, "buckle") == ("buckle", "seat")


@pytest.mark.parametrize(
    ("place", "opened", "minutes"),
    [
        ("dash", (), 12),
        ("buckle", (), 35),
        ("buckle", ("seat",), 25),
        ("buckle", ("seat", "buckle"), 0),
        ("seat", ("dash",), 10),
    ],
)
def test_opening_is_paid_once_with_its_closing(place, opened, minutes):
    """What stands open costs nothing more; closing is charged with the opening."""
    assert access_minutes(PLACES, place, frozenset(opened)) == minutes
