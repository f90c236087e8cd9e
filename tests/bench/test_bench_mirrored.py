"""A sample of the bench of mirrored connectors, and what it counts."""

from __future__ import annotations

import numpy as np
from bench.bench_mirrored import KINDS, Trial, connectors, differs, kind_of, said, table, trials
from shipped_models import small_model
from twin_faults import Fault
from twin_readings import Technician
from twin_vehicles import Riches, Twin

from advisor.network.worlds import NONE


def test_a_mirrored_connector_is_noticed():
    """Of connectors with more than two used cavities most are noticed within three findings, with few false alarms.

    The whole bench is run by hand; 30 vehicles bind no more than far off: .92 and .03 of them, give or take .05.
    """
    found = list(trials(small_model("blower"), 30, np.random.default_rng(1), guided=True))
    mine = [t for t in found if t.kind == KINDS[2]]
    noticed = np.mean([t.said[0] > 0 for t in mine if t.mirrored])
    assert noticed >= 0.65
    assert np.mean([t.said[0] > 0 for t in found if not t.mirrored]) <= 0.1


def test_connectors_are_told_apart():
    """By the files: X31 has two cavities, most leads of C20 hang in the air mirrored, X51 is another."""
    belt, blower = small_model("belt-reminder"), small_model("blower")
    kinds = {name: kind_of(belt, name, tests) for name, tests in connectors(belt).items()}
    assert kinds["X31"] == KINDS[0]
    kinds = {name: kind_of(blower, name, tests) for name, tests in connectors(blower).items()}
    assert kinds["X51"] == KINDS[2]


def test_the_table_counts_trials():
    """Of two mirrored one is noticed after two findings, the other reads the same; one false alarm in two, by hand.

    With a lower threshold, the second of each trial, both alarms are false and the first is said at once.
    """
    told = [(True, (2, 1), True), (True, (0, 0), False), (False, (0, 2), True), (False, (3, 3), True)]
    found = [Trial(KINDS[2], *each) for each in told]
    assert table(found) == [(name, 2, 0.0, 0.5, 0.5, 0.5, 1, 1.0) for name in (KINDS[2], "all")]
    assert table(found, 1)[-1] == ("all", 2, 0.5, 0.5, 0.5, 1.0, 1, 1.0)


def test_said_is_the_first_that_is_high_enough():
    """Shares of .2, .4 and .6: .3 is passed by the second finding, .5 by the third, .7 never."""
    assert [said([0.2, 0.4, 0.6], least) for least in (0.3, 0.5, 0.7)] == [2, 3, 0]


def test_both_sides_may_read_the_same():
    """With its switch welded both cavities of X22 are at 12 V, lamps on or off; while it works they differ."""
    model = small_model("reversing-lamps")
    twin, tests = Twin(model, Riches(tolerance=False, supply=False)), connectors(model)["X22"]
    rng = np.random.default_rng(1)
    causes = [cause.id for cause in model.wiring.causes]
    welded = model.wiring.causes[causes.index("reverse-switch/stuck-closed")]
    for changes, expected in ((welded.variants[0], False), ((), True)):
        fleet = twin.vehicles([Fault((), NONE, tuple(changes))], rng)
        assert differs(Technician(twin, fleet, rng), tests) == expected
