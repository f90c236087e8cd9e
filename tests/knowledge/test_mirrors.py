"""What a test touches at a mirrored connector, and what that reads."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shipped_models import drawn, small_model

from advisor.knowledge.documents import Address, Connector
from advisor.knowledge.hypotheses import singles
from advisor.knowledge.mirrors import mirror_of, mirrored_cavity, mirrored_tests
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.supply import LOOSE, POST

SIX = Connector("X1", "plug", "p", ("1", "2", "3", "4", "5", "6"), 2, Address("f", 1, 1))


@pytest.mark.parametrize(("cavity", "seen"), [("1", "3"), ("2", "2"), ("3", "1"), ("4", "6"), ("5", "5")])
def test_left_and_right_change_in_each_row(cavity, seen):
    """Six cavities in two rows, by hand: the middle ones stay, rows are kept."""
    assert mirrored_cavity(SIX, cavity) == seen


@pytest.mark.parametrize("circuit", drawn("mirrors"))
def test_a_mirror_twice_is_none(circuit):
    """Whoever turns a mirrored lead once more is where the test meant it to be."""
    model = small_model(circuit)
    for test in model.compiled.tests:
        mirror = mirror_of(test, model.wiring)
        if mirror and mirror.observed:
            assert mirror_of(replace(test, observed=mirror.observed), model.wiring).observed == test.observed


@pytest.mark.parametrize(
    ("test", "connector", "red"),
    [
        ("volts.C12-7.reminding", "C12", "C12/9"),
        ("volts.X31-1-a.reminding", "X31", "X31/2/a"),
        ("volts.C20-11.reminding", "C20", None),
        ("volts.battery.reminding", None, None),
        ("ohms.F8-out.key-off", None, None),
    ],
)
def test_where_the_red_lead_is(test, connector, red):
    """Cavities of the belt reminder by its file: 7 and 9 of ten in two rows face each other, 11 an empty one."""
    model = small_model("belt-reminder")
    known = {each.id: each for each in model.compiled.tests}
    mirror = mirror_of(known[test], model.wiring) if test in known else None
    assert (mirror and mirror.connector) == connector
    if mirror:
        assert (mirror.observed and mirror.observed.red) == red


@pytest.mark.parametrize("circuit", drawn("mirrors"))
def test_the_reading_is_that_of_the_mirrored_cavity(circuit):
    """The compiled readings of mirrored leads are those of a test that is put to the mirrored cavity on purpose."""
    model = small_model(circuit)
    turned = mirrored_tests(model.compiled.tests, model.wiring)[::5]
    sets, run = singles(model.wiring.causes), Predictor(model.wiring)
    seen = run.predict(turned, sets, run.latched(sets))
    for i, test in enumerate(turned):
        found = model.predicted[test.id].mirrored.make()
        few = found.row[: len(sets)]
        few, value = np.delete(few, 2), np.delete(seen.value[:, i], 2)  # what is not listed has a row of its own
        assert found.value[few] == pytest.approx(value, abs=1e-6)


def test_a_lead_in_an_empty_cavity_hangs_in_the_air():
    """Cavity 11 of C20 mirrored is cavity 8, where no wire comes: near zero and wandering, under every hypothesis."""
    model = small_model("belt-reminder")
    tests = [t for t in model.tests.values() if t.probe[:1] == (("C20", "11"),) and t.unit == "V"]
    found = model.mirrored(tests[0].id).make()
    assert np.unique(found.value) == pytest.approx([0.0])
    assert found.jumps.min() > 0.1


def test_both_leads_in_the_air_wander_alike():
    """No path closes through a meter whose black lead is on paint, as none does with the red one in an empty cavity."""
    model = small_model("fuel-gauge")
    shared = model.predicted["volts.X97-1.full"].read(0.36, model.axis, 0.0).shared
    loose = model.axis.black == LOOSE
    assert np.allclose(shared.table[:-1, loose], shared.turned.table[0, model.axis.black == POST][0], rtol=1e-6)


def test_a_twin_that_tells_the_sides_is_kept_for_that():
    """By the belt reminder's file: cavity 2 of X31, the switch's ground, is at 0 V whatever the belt does.

    So its test at the prove-out tells no fault more; but there, belt fastened, the unit pulls cavity 1 up.
    """
    tests = small_model("belt-reminder").compiled.tests
    marked = {test.id for test in tests if test.for_sides}
    assert marked == {"volts.X31-2-a.prove-out", "volts.X31-2-b.prove-out"}
