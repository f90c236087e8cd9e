"""What circuits there are and what one holds."""

import fakes

from advisor.contract.listing import circuit_detail, circuit_list


def test_list_keys():
    """A row of the list has id, title and symptoms."""
    listed = circuit_list([fakes.SCHEMATIC]).model_dump()
    assert set(listed) == {"circuits", "broken"}
    assert set(listed["circuits"][0]) == {"id", "title", "symptoms"}
    assert set(listed["circuits"][0]["symptoms"][0]) == {"id", "title"}


def test_detail_keys():
    """One circuit tells its symptoms, tests, parts, connectors and withheld tests."""
    detail = circuit_detail(fakes.MODEL).model_dump()
    assert set(detail) == {"id", "title", "symptoms", "tests", "parts", "connectors", "withheld"}
    assert set(detail["tests"][0]) == {"id", "title", "place", "instrument", "condition", "outcomes"}
    assert set(detail["parts"][0]) == {"id", "title", "type", "place", "modes"}
    assert set(detail["connectors"][0]) == {"id", "title", "cavities", "rows", "inline"}
    assert set(detail["withheld"][0]) == {"test", "title", "reason"}


def test_parts_are_all_that_can_fail():
    """Parts, wires, ground points and contacts are listed with title, type and place."""
    parts = {part.id: part for part in circuit_detail(fakes.MODEL).parts}
    assert set(parts) == set(fakes.MODEL.cause_parts)
    assert parts["W103"].title == "wire W103 (GNWH)"
    assert (parts["X31/1"].type, parts["X31/1"].place.id) == ("contact", "under-seat")
    assert parts["G4"].modes == ("open", "high-resistance")
