"""What tests find and tell apart, against a circuit small enough to work by hand and against brute force."""

import numpy as np
import pytest
from shipped_models import drawn, small_model, usual_prior

from advisor.decision.testability import testability as graded
from advisor.network.worlds import NONE, SPECIALS


@pytest.mark.parametrize("circuit", drawn("testability"))
def test_no_more_is_found_than_single_outcomes_and_readings_tell(circuit):
    """Detection against a plain loop: some test's outcome or reading tells a fault from the sound circuit."""
    model = small_model(circuit)
    weights, worlds = usual_prior(circuit).weights, model.worlds
    seen = total = 0.0
    for h in range(SPECIALS, SPECIALS + len(worlds.severity_cause)):
        told, column = False, 0
        for number, test in enumerate(model.compiled.tests):
            wide = len(test.outcomes)
            block = worlds.likelihood[[NONE, h], column : column + wide]
            column += wide
            told |= 0.5 * np.abs(block[0] - block[1]).sum() >= 0.8
            if test.unit and (model.compiled.jumps[[NONE, h], number] <= 0.2).all():
                value, spread = model.compiled.value[[NONE, h], number], model.compiled.spread[[NONE, h], number]
                told |= abs(value[0] - value[1]) >= 2.5631 * np.sqrt((spread**2).mean())  # normal errors: 2 x 1.2816
        seen, total = seen + weights[h] * told, total + weights[h]
    found = graded(model)
    assert found.detected == pytest.approx(seen / total, abs=1e-9)
    assert found.detected + sum(u.share for u in found.undetected) == pytest.approx(1.0)
    assert 0.0 < found.isolated[0] <= found.isolated[1] + 1e-12 <= found.isolated[2] + 2e-12 <= 1.0 + 3e-12


def test_what_a_restraint_place_hides():
    """At the wheel nothing may be probed live: an open horn button and contact spiral stay one group."""
    found = graded(small_model("horn"))
    group = next(g for g in found.groups if "horn-button/stuck-open" in g.causes)
    assert "spiral/open" in group.causes
    assert found.extra is not None
    assert found.extra.share > 0.0


def test_a_plug_that_can_be_reached_splits_the_seat():
    """From behind the buckle's plug under the seat a meter tells an open switch from the wires on either side of it."""
    found = graded(small_model("belt-reminder"))
    assert not [g for g in found.groups if "buckle-switch/stuck-open" in g.causes]
    assert not [g for g in found.groups if {"W104/open", "W105/open"} & set(g.causes)]


def test_a_fault_that_does_nothing_is_said_to_start_nothing():
    """A short of the buckle's ground wire to ground changes no reading and starts no symptom."""
    found = graded(small_model("belt-reminder"))
    unseen = {u.cause: u for u in found.undetected}
    assert unseen["W105/short-to-ground"].symptoms == ()


def test_tests_that_are_needed_take_their_minutes():
    """No more tests than there are, and no less time than the cheapest of them takes."""
    model = small_model("reversing-lamps")
    found = graded(model)
    assert 0 < found.tests <= len(model.compiled.tests)
    assert found.minutes >= found.tests * min(t.minutes for t in model.compiled.tests)
