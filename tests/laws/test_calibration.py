"""The model is as often right as it says, on vehicles that have more to them than it knows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from calibration import Judged, calibration_error, floor, gap, judged
from shipped_models import few
from twin_faults import Fault, FaultSets
from twin_vehicles import Fleet, Riches, Twin

import advisor
from advisor.circuit.solve import solve
from advisor.knowledge.catalogue import Setup
from advisor.network.worlds import NONE, SPECIALS

CIRCUITS = few("calibration")

VEHICLES, BY_ADVICE = 150, 0.2
ERRORS, SHARE = 3.5, 0.03


@pytest.fixture(scope="module", params=CIRCUITS)
def model(request):
    """Each shipped circuit."""
    return advisor.load(request.param)


def test_what_is_stated_is_what_is_right(model, rng):
    """Among faults that the model knows, the top cause is right as often as stated, within 3.5 errors and .03.

    The error is the binomial one of the stated shares.  What so few vehicles cannot show the bench does.
    """
    found = judged(model, VEHICLES, rng, riches=Riches(outside=False), by_advice=BY_ADVICE)["as it is, listed"]
    difference, error = gap(found)
    assert abs(difference) <= ERRORS * error + SHARE, (found.right.mean(), found.stated.mean())


def test_any_supply_is_one_row(model):
    """A row at 11.8 or 12.7 V has the voltages of a battery of that force: the divider behind it is exact."""
    twin = Twin(model, Riches(tolerance=False))
    supplies = np.array([11.8, 12.3, 12.7])
    changes = tuple(twin._changes(Fault((), NONE), float(volts), np.random.default_rng(0)) for volts in supplies)
    blown = np.zeros((3, len(model.wiring.netlist.of_kind("fuse"))), bool)
    fleet = Fleet((Fault((), NONE),) * 3, changes, supplies, blown)
    setup, battery = Setup(model.wiring.usual({})), model.wiring.netlist.elements[twin.source].id
    found, netlist = twin.solved(fleet, setup, ()), model.wiring.under(setup)
    for row, volts in enumerate(supplies):
        elements = tuple(replace(e, volts=float(volts)) if e.id == battery else e for e in netlist.elements)
        direct = solve(replace(netlist, elements=elements), [()])
        shared = [found.at(node)[row] for node in netlist.nodes]
        assert shared == pytest.approx(direct.volts[0], abs=1e-6)


@pytest.mark.parametrize("circuit", ("charge-warning-lamp", "starter"))
def test_a_sound_twin_shows_what_is_predicted(circuit):
    """With nothing odd about it, in every setup; a battery resists more while it is charged than while it cranks."""
    model = advisor.load(circuit)
    twin = Twin(model, Riches(tolerance=False, supply=False))
    fleet = twin.vehicles([Fault((), NONE)], np.random.default_rng(0))
    watched = [test for test in model.compiled.tests if test.observed.motor or test.observed.lamp]
    shown = [
        twin.solved(fleet, test.setup, ()).shown(test.observed.load, model.supply_volts)[0]
        for test in watched
        if not test.setup.swap
    ]
    predicted = [model.compiled.value[NONE, model.positions[t.id]] for t in watched if not t.setup.swap]
    assert len(shown) >= 10
    assert shown == pytest.approx(predicted, abs=1e-6)


def test_fault_sets_have_the_mass_that_the_prior_gives_them(model, rng):
    """Sets of two and more weigh what the prior keeps and leaves out of them, and those drawn are left out as often."""
    sets = FaultSets(model)
    sizes = (model.worlds.members[SPECIALS:] >= 0).sum(axis=1)
    kept = float(sets.root.weights[SPECIALS:][sizes > 1].sum())
    assert sets.mass_of_several == pytest.approx(kept + sets.root.omitted, rel=1e-4)
    share, drawn = sets.root.unsolved / sets.mass_of_several, 3000
    out = sum(sets.left_out(rng) is not None for _ in range(drawn))
    assert abs(out - share * drawn) <= 4.0 * np.sqrt(drawn * share * (1.0 - share))


def test_calibration_error_of_a_published_example():
    """Eight forecasts: .1625 in fifths of the scale, which here are four bins of two (computed by hand)."""
    stated = np.array([0.9, 0.8, 0.7, 0.6, 0.3, 0.2, 0.1, 0.1])
    right = np.array([1, 1, 0, 1, 0, 1, 0, 0])
    assert calibration_error(stated, right, bins=4) == pytest.approx(0.1625, abs=1e-12)


def test_the_measure_tells_honest_shares_from_bold_ones(rng):
    """Labels drawn from the stated shares stay at the floor; shares moved half way to certainty do not."""
    honest = rng.uniform(0.3, 1.0, 4000)
    right = rng.random(4000) < honest
    bold = (1.0 + honest) / 2.0
    fields = {name: np.zeros(4000) for name in ("log_loss", "faults", "special", "slipped", "bad_black")}
    judgements = {name: Judged(stated, right, **fields) for name, stated in (("honest", honest), ("bold", bold))}
    errors = {name: calibration_error(j.stated, j.right) for name, j in judgements.items()}
    assert errors["honest"] <= 1.5 * floor(judgements["honest"], rng)[1]
    assert errors["bold"] > 3.0 * floor(judgements["bold"], rng)[1]
    assert abs(gap(judgements["honest"])[0]) <= ERRORS * gap(judgements["honest"])[1]
    assert gap(judgements["bold"])[0] < -ERRORS * gap(judgements["bold"])[1] - SHARE
