"""Look next door: what shares a ground or a fuse is asked about first, and the shared part is named soon."""

import os
import shutil

import numpy as np
import pytest
from closed_loop import Vehicle, leader

import advisor
from advisor.circuit.netlist import OPEN, Change
from advisor.decision.advise import decide
from advisor.knowledge.places import path
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding

MOST_TESTS, FIRST_STEPS = 4, 2


class Flickering(Vehicle):
    """A vehicle whose contact works loose: every voltage that the fault changes jumps about."""

    def answer(self, test):
        """What the faulty vehicle shows, unsteady where a sound one shows something else."""
        found = super().answer(test)
        if test.unit == "V" and isinstance(found, ReadingFinding):
            sound = Vehicle(self.model, self.cause, [], self.rng).answer(test)
            if abs(sound.value - found.value) > 0.3:
                return OutcomeFinding(test.id, "jumps")
        return found


def followed(circuit, symptom, vehicle_type, cause, ohms):
    """Lead one vehicle: the tests that were done, and the last advice."""
    model = advisor.load(circuit)
    part = cause.rpartition("/")[0]
    kind = "set" if ohms == OPEN else "add"
    change = Change(model.wiring.netlist.element_index[part], kind, ohms)
    vehicle = vehicle_type(model, cause, [change], np.random.default_rng(7))
    findings, opened, done = [SymptomFinding(symptom)], frozenset(), []
    for _ in range(MOST_TESTS + 1):
        advice = decide(model, findings, opened=opened)
        if advice.next.kind != "test" or len(done) == MOST_TESTS:
            break
        test = model.tests[advice.next.id]
        done.append(test)
        findings.append(vehicle.answer(test))
        if test.opens:
            opened |= frozenset(path(model.schematic.places, test.place))
    return model, done, advice


def next_door(model, tests):
    """Whether a neighbour's load is among what was looked at."""
    return any(test.observed.load in model.schematic.beside for test in tests if test.observed.load)


@pytest.fixture
def judge():
    """Whether ngspice is there to play the vehicle; .ci/run demands it."""
    there = shutil.which("ngspice") is not None
    assert there or "ADVISOR_REQUIRE_NGSPICE" not in os.environ
    return there


@pytest.mark.parametrize(
    ("circuit", "symptom", "ohms", "vehicle"),
    [
        ("heated-rear-window", "lukewarm", 0.5, Vehicle),
        ("heated-rear-window", "stays-cold", 2.0, Vehicle),
        ("reversing-lamps", "dim", 2.0, Vehicle),
        ("fuel-gauge", "falls-with-pump", 2.0, Vehicle),
        ("fuel-gauge", "falls-with-pump", 1.5, Flickering),
        ("heated-rear-window", "lukewarm", 1.0, Flickering),
    ],
)
def test_a_ground_that_three_circuits_share_is_named(circuit, symptom, ohms, vehicle, judge):
    """One complaint; neighbours are asked about in the first two steps, the ground leads after at most four tests."""
    if not judge:
        return
    model, done, advice = followed(circuit, symptom, vehicle, "G6/high-resistance", ohms)
    assert next_door(model, done[:FIRST_STEPS]), [test.id for test in done]
    assert leader(advice, "part") == "G6", [test.id for test in done]


def test_a_shared_fuse_that_is_whole_is_cleared(judge):
    """The tab is off the glass: neither the fuse nor the ground that others share is blamed for it."""
    if not judge:
        return
    _, _, advice = followed("heated-rear-window", "stays-cold", Vehicle, "tab-feed/open", OPEN)
    shares = {part: sum(c.probability for c in advice.causes if c.part == part) for part in ("F12", "G6")}
    assert max(shares.values()) < 0.02
    assert leader(advice, "group") == next(c.group for c in advice.causes if c.part == "tab-feed")


def test_a_shared_fuse_that_is_open_is_named(judge):
    """The same complaint with the shared fuse open: the reversing lamps are dark too; the fuse or its contact leads."""
    if not judge:
        return
    model, done, advice = followed("heated-rear-window", "stays-cold", Vehicle, "F12/open", OPEN)
    assert next_door(model, done), [test.id for test in done]
    shared = sum(c.probability for c in advice.causes if c.part in {"F12", "X5/3"})
    assert shared > 0.6, [(c.part, c.mode, c.probability) for c in advice.causes[:3]]


def test_neighbours_are_good_and_their_looks_are_tests():
    """What is drawn for a neighbour's sake never fails, and its looks say what they share."""
    model = advisor.load("heated-rear-window")
    assert {door.circuit for door in model.schematic.next_door} == {"fuel-gauge", "rear-lighting", "reversing-lamps"}
    assert not {item.partition("/")[0] for item in model.wiring.items} & model.schematic.beside
    looks = [test for test in model.compiled.tests if test.observed.load in model.schematic.beside]
    assert looks
    assert all("shares" in test.title for test in looks)
