"""Sections: what lies in series between two junctions."""

import pytest

import advisor

# G4 carries the seat heater as well.
BUCKLE = {"buckle-switch", "W103", "W104", "W105", "W106", "X31/1", "X31/2", "X33/1", "X33/2"}
MOTOR = {"blower-motor", "F16", "W401", "W404", "W405", "S9", "X52/1", "X52/2"}
# F12 and X5/3 feed a neighbour as well, so that the current branches behind them.
REVERSE = {"reverse-switch", "W301", "W302", "W303", "S7", "X22/1", "X22/2", "X30/1"}


@pytest.mark.parametrize(
    ("circuit", "title", "members"),
    [
        ("belt-reminder", "belt buckle switch side", BUCKLE),
        ("belt-reminder", "belt reminder unit and its plug", {"belt-unit", "C12/1", "C12/4", "C12/7", "C12/9"}),
        ("belt-reminder", "belt warning lamp side", {"belt-lamp", "cluster", "W109", "C20/11"}),
        ("reversing-lamps", "reversing switch side", REVERSE),
        ("reversing-lamps", "left reversing lamp side", {"reverse-left", "holder-left", "W304", "X41/4"}),
        ("blower", "blower relay K5 and its socket", {"K5", "X8/30", "X8/85", "X8/86", "X8/87"}),
        ("blower", "blower motor side", MOTOR),
        ("blower", "blower resistor of speed three side", {"resistor-high", "thermal-fuse", "W406", "X50/4"}),
    ],
)
def test_a_section_is_what_one_current_flows_through(circuit, title, members):
    """Worked by hand from the drawing: follow the wire until it branches."""
    sections = advisor.load(circuit).sections
    assert {part for part, section in sections.items() if section == title} == members


@pytest.mark.parametrize("circuit", ["belt-reminder", "blower", "reversing-lamps"])
def test_every_part_with_causes_has_a_section(circuit):
    """No cause is left without a group."""
    model = advisor.load(circuit)
    assert set(model.sections) == set(model.cause_parts)
