"""Ohmmeter, test lamp and clamp: what they show, and where they are withheld."""

import dataclasses
from itertools import pairwise

import numpy as np
import pytest
from shipped_models import small_model

import advisor
from advisor.decision.advise import decide
from advisor.knowledge.candidates import Candidates
from advisor.knowledge.instruments import LIVE
from advisor.knowledge.readings import display_cell, meter_amps, meter_ohms, reading, strayed
from advisor.knowledge.wiring import wire_up
from advisor.network.findings import DeclinedFinding, OutcomeFinding, ReadingFinding, SymptomFinding

CIRCUITS = ("belt-reminder", "reversing-lamps")


@pytest.fixture(params=CIRCUITS)
def model(request):
    """Give each shipped circuit."""
    return advisor.load(request.param)


@pytest.fixture
def tools():
    """Give the shipped instruments."""
    return advisor.load("belt-reminder").schematic.library.instruments


def test_ohms_are_asked_for_on_dead_and_parted_sections_only(model):
    """Every test in ohms has the key off and something apart, and its sound circuit shows no voltage there."""
    tests = [test for test in model.tests.values() if test.kind == "ohms"]
    assert len(tests) >= 5
    for test in tests:
        assert (test.setup.settings["ignition"], len(test.setup.unplug), test.disturbing) == ("off", 1, True)
        assert not model.schematic.places[test.place].restraint


def test_a_section_that_stays_live_is_withheld():
    """A switch that hangs on the permanent feed keeps its wires live with the key off: no ohms there."""
    schematic = advisor.load("reversing-lamps").schematic
    switch = schematic.parts["reverse-switch"]
    live = dataclasses.replace(switch, pins={"1": "X22/1", "2": "bus-30"})
    part = dataclasses.replace(schematic, parts={**schematic.parts, "reverse-switch": live})
    candidates = Candidates(wire_up(part))
    candidates.tests()
    assert LIVE in {held.reason for held in candidates.withheld if held.test.startswith("ohms.")}


@pytest.mark.parametrize(("ohms", "shown"), [(0.0, 0.3), (0.72, 1.02), (386.7, 387.0), (1e9, 2e7)])
def test_leads_count_and_the_range_ends(tools, ohms, shown):
    """The leads' 0.3 ohm are in every reading; far beyond the range all is over range."""
    value, spread = meter_ohms(np.zeros(1), np.array([ohms]), tools["ohmmeter"])
    assert 10 ** value[0] == pytest.approx(shown)
    assert 0.05 <= spread[0] < 0.25


def test_a_live_wire_makes_ohms_nonsense(tools):
    """With half a volt between the probes the reading may be anything."""
    assert meter_ohms(np.array([0.5]), np.array([1.0]), tools["ohmmeter"])[1][0] == 3.0


@pytest.mark.parametrize(("value", "count"), [(0.4, 0.1), (150.0, 0.1), (1500.0, 1.0), (15e3, 10.0), (1.5e6, 1e3)])
def test_an_ohmmeter_of_2000_counts_changes_its_range(tools, value, count):
    """Up to 200 ohm a count is 0.1 ohm, then ten times more for every ten times."""
    low, high = display_cell(value, tools["ohmmeter"])
    assert high - low == pytest.approx(count)


def test_every_share_of_a_slip_in_ohms_lands_somewhere(tools):
    """Over all cells a slip's probability is one, over range included."""
    ends = [-np.inf, 0.1, 1.0, 100.0, 1e6, 2e6, np.inf]
    total = sum(strayed(cell, tools["ohmmeter"], 1.0) for cell in pairwise(ends))
    assert total == pytest.approx(1.0)


def test_over_range_is_a_reading_of_an_open_path(tools):
    """OL is nearly sure on an open path, and rare on a closed one."""
    value, spread = meter_ohms(np.zeros(2), np.array([1e9, 0.2]), tools["ohmmeter"])
    p = reading(value, spread, display_cell(None, tools["ohmmeter"]), tools["ohmmeter"], 1.0)
    assert p[0] > 0.95
    assert p[1] < 0.02


def test_a_clamp_is_good_to_two_in_a_hundred_and_five_counts(tools):
    """At 0 A the spread is 0.05 A over root three; the direction does not count."""
    value, spread = meter_amps(np.array([0.0, -3.0]), tools["clamp"])
    assert value.tolist() == [0.0, 3.0]
    assert spread[0] == pytest.approx(0.05 / np.sqrt(3))


def test_readings_in_ohms_and_amps_rank_as_their_outcomes_do():
    """OL at the unit plug, belt open, and its outcome both blame ground or switch; no amps in the feed the switch.

    Before, a switch that stays open has about the ground's share; of open grounds a fifth would not show at all.
    """
    belt, reversing = advisor.load("belt-reminder"), advisor.load("reversing-lamps")
    for finding in (ReadingFinding("ohms.C12-7.key-off", None), OutcomeFinding("ohms.C12-7.key-off", "open")):
        first = decide(belt, [SymptomFinding("lamp-stays-dark"), finding], depth=1).causes[:2]
        assert {(c.part, c.mode) for c in first} == {("G4", "open"), ("buckle-switch", "stuck-open")}
    dead = decide(reversing, [SymptomFinding("both-dark"), ReadingFinding("clamp.W301.reverse", 0.0)])
    assert dead.causes[0].part == "reverse-switch"
    assert dead.causes[0].probability > 0.05


def test_ohms_say_where_the_switches_stand():
    """A reading through a switch means nothing unless its position is told: key off, belt unfastened or fastened."""
    tests = advisor.load("belt-reminder").tests
    assert tests["ohms.C12-7.key-off"].condition_text.startswith("key off, belt unfastened")
    assert tests["ohms.C12-7.key-off-fastened"].condition_text.startswith("key off, belt fastened")


def test_a_declined_test_is_no_evidence(model):
    """Declining changes no share, and the test is not proposed again."""
    symptom = SymptomFinding(next(iter(model.schematic.symptoms)))
    plain = decide(model, [symptom])
    declined = decide(model, [symptom, DeclinedFinding(plain.next.id)])
    assert declined.causes == plain.causes
    assert plain.next.id not in {worth.test for worth in declined.tests}


def test_a_heater_is_no_wire():
    """A test lamp goes to feeds: not behind the seat heater's 4 ohm, and not to an input that shares its ground."""
    drain, belt = small_model("battery-drain"), small_model("belt-reminder")
    assert "lamp.X118-1.key-on" in drain.tests
    assert "lamp.X118-2.key-on" not in drain.tests
    assert "lamp.C12-7.reminding" not in belt.tests
