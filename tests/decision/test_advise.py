"""From findings to advice."""

import numpy as np
import pytest
from shipped_models import small_model

import advisor
from advisor.decision.advice import Costs
from advisor.decision.advise import decide
from advisor.decision.edges import margin
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.next_step import RECHECK
from advisor.errors import ImpossibleFindingsError, RequestError
from advisor.knowledge.prevalence import Vehicle
from advisor.network.findings import DeclinedFinding, OutcomeFinding, ReadingFinding, SymptomFinding

COMPLAINT = SymptomFinding("lamp-stays-dark")


@pytest.fixture(scope="module")
def model():
    """The belt reminder."""
    return advisor.load("belt-reminder")


def test_tests_are_listed_by_falling_worth_then_id(model):
    """All unanswered safe tests are there, in a stable order."""
    advice = decide(model, [COMPLAINT])
    keys = [(-worth.worth, worth.test) for worth in advice.tests]
    assert keys == sorted(keys)
    withheld = {held.test for held in advice.withheld}
    assert {worth.test for worth in advice.tests} | (withheld & set(model.tests)) == set(model.tests)


def test_probabilities_are_normalised(model):
    """Causes, pairs counted once, no fault, as designed and unlisted make one."""
    advice = decide(model, [COMPLAINT, OutcomeFinding("look.belt-lamp.prove-out", "lit")])
    singly = sum(cause.probability for cause in advice.causes) + advice.no_fault + advice.as_designed + advice.unlisted
    assert 1.0 <= singly < 1.05  # a pair is counted under both of its causes
    for worth in advice.tests:
        assert sum(worth.outcome_probabilities) == pytest.approx(1.0, abs=1e-9)
    assert all(cause.low <= cause.probability <= cause.high for cause in advice.causes)


def test_an_open_place_makes_its_tests_cheaper(model):
    """What stands open is not paid again, for tests and repairs alike."""
    closed, opened = decide(model, [COMPLAINT]), decide(model, [COMPLAINT], opened=frozenset({"under-seat"}))
    test = "volts.X31-1-a.reminding"
    minutes = [next(w.minutes for w in advice.tests if w.test == test) for advice in (closed, opened)]
    assert minutes == [12.0, 2.0]
    repair = [next(r.minutes for r in advice.repairs if r.repair == "repair-G4") for advice in (closed, opened)]
    assert repair[0] - repair[1] == 10.0
    assert opened.expected_cost_now < closed.expected_cost_now


def test_worth_by_its_definition(model):
    """One step ahead, worth is what is saved on average: cost now, less the test, less the expected cost after it.

    Outcomes are predicted at the supply's median and spread, findings weighed over all of it: half a euro of 17.
    """
    advice = decide(model, [COMPLAINT], depth=1)
    worth = next(w for w in advice.tests if w.test == "look.belt-lamp.prove-out")
    outcomes = [o.id for o in model.tests[worth.test].outcomes]
    after = [decide(model, [COMPLAINT, OutcomeFinding(worth.test, o)], depth=1).expected_cost_now for o in outcomes]
    expected = advice.expected_cost_now - worth.cost - float(np.dot(worth.outcome_probabilities, after))
    assert worth.worth == pytest.approx(expected, abs=0.5)


def test_next_is_about_the_best_test_and_lowers_the_cost(model):
    """The next step's worth is the difference of the two expected costs, and none is worth a tie more."""
    advice = decide(model, [COMPLAINT])
    worth = next(row.worth for row in advice.tests if row.test == advice.next.id)
    assert advice.next.kind == "test"
    assert advice.expected_cost_now - advice.expected_cost_after_next == pytest.approx(worth)
    assert advice.tests[0].worth - margin(advice.tests[0].worth) <= worth <= advice.tests[0].worth


def test_whether_testing_on_can_pay(model):
    """No test is worth more than knowing the fault; the gap is to the lower bound; a sure cause leaves no doubt."""
    one, open_case = decide(model, [COMPLAINT], depth=1), decide(model, [COMPLAINT])
    assert (one.stopping, one.gap) == (None, None)
    stopping = open_case.stopping
    assert stopping.perfect_information == pytest.approx(open_case.expected_cost_now - open_case.least_cost)
    assert max(worth.worth for worth in open_case.tests) < stopping.perfect_information
    assert open_case.gap == pytest.approx(open_case.expected_cost_after_next / open_case.least_cost - 1.0)
    assert (set(stopping.tests) <= set(model.tests), stopping.no_test_pays) == (True, False)
    assert stopping.same_decision < 0.5
    settled = decide(model, [COMPLAINT, *(DeclinedFinding(test) for test in model.tests)]).stopping
    assert (settled.tests, settled.same_decision, settled.no_test_pays) == ((), pytest.approx(1.0), True)


def test_two_steps_see_more_than_one(model):
    """Two steps ahead a cheap look comes first, and is expected to save more than the best single test does."""
    one, two = decide(model, [COMPLAINT], depth=1), decide(model, [COMPLAINT])
    assert two.next.id == "look.belt-lamp.prove-out"
    assert two.expected_cost_after_next < one.expected_cost_after_next
    assert 0.0 < two.least_cost < two.expected_cost_after_next < two.expected_cost_now
    assert one.least_cost is None


@pytest.mark.parametrize("findings", [[COMPLAINT], [COMPLAINT, OutcomeFinding("look.belt-lamp.prove-out", "lit")]])
@pytest.mark.parametrize("depth", [1, 2])
def test_nobody_is_told_that_nothing_is_wrong_too_early(model, findings, depth):
    """While a fault is likely, the first step is neither "no fault" nor "as designed", tests or no tests."""
    assert decide(model, findings, depth=depth).next.kind in {"test", "repair"}
    declined = [DeclinedFinding(test) for test in model.tests if test not in {getattr(f, "test", "") for f in findings}]
    assert decide(model, [*findings, *declined], depth=depth).next.kind in {"repair", "hand_over"}


def test_dear_labour_and_cheap_hand_over(model):
    """Where handing over costs next to nothing, nobody starts."""
    assert decide(model, [COMPLAINT], costs=Costs(hand_over=1.0)).next.kind == "hand_over"


@pytest.mark.parametrize("depth", [1, 2])
def test_handing_over_for_nothing(model, depth):
    """Where handing over is free, that is the step, one and two steps ahead, and numbers stay finite."""
    advice = decide(model, [COMPLAINT], costs=Costs(hand_over=0.0), depth=depth)
    assert advice.next.kind == "hand_over"
    assert np.isfinite([advice.expected_cost_now, *(row.worth for row in advice.tests)]).all()


def test_free_work_is_no_division_by_zero(model):
    """Labour without a price leaves finite numbers."""
    advice = decide(model, [COMPLAINT], costs=Costs(labour_per_hour=0.0))
    assert all(np.isfinite([w.worth for w in advice.tests]))
    assert np.isfinite(advice.expected_cost_now)


def test_all_well_after_all(model):
    """A lamp that does everything as it should leaves no fault now or normal behaviour."""
    seen = {"reminding": "lit", "prove-out": "lit", "fastened": "dark", "elapsed": "dark"}
    looks = [OutcomeFinding(f"look.belt-lamp.{condition}", look) for condition, look in seen.items()]
    looks += [OutcomeFinding(f"look.{lamp}.prove-out", "lit") for lamp in ("cluster-lighting", "heater-light")]
    advice = decide(model, [COMPLAINT, *looks])
    assert advice.next.kind in {"no_fault", "as_designed"}
    assert advice.no_fault + advice.as_designed + advice.hiding > 0.9


def test_a_test_at_a_restraint_place_is_withheld(model):
    """Nothing is probed live at the buckle or at the wheel, and the reason is told."""
    horn = small_model("horn")
    withheld = {held.test: held.reason for held in horn.compiled.withheld}
    assert "at a restraint place" in withheld["volts.X62-1.pressed"]
    for circuit, place in ((model, "buckle"), (horn, "column")):
        assert not [test.id for test in circuit.tests.values() if test.place == place and test.kind != "inspect"]
    told = {held.test: held.reason for held in decide(model, [COMPLAINT]).withheld}
    assert "beside a restraint" in told["ohms.buckle-switch.key-off"]


def test_beside_a_restraint_only_a_voltmeter_from_behind(model):
    """Under the seat nothing is unplugged, bridged, lit or measured in ohms; what is left carries the caution."""
    here = [test for test in model.tests.values() if test.place == "under-seat" and test.kind != "inspect"]
    assert here
    assert all(test.kind in {"volts", "drop"} and not test.setup.unplug for test in here)
    assert all("restraint" in test.cautions for test in here)
    assert any("beside a restraint" in held.reason for held in model.withheld)


def test_jumpers_are_withheld_while_they_could_blow(model):
    """Every proposed jumper's overload is improbable under the present belief."""
    advice = decide(model, [COMPLAINT])
    rating = model.schematic.library.instruments["jumper"].fuse_amps
    ids = list(model.tests)
    root = model.prior(Vehicle())
    for worth in advice.tests:
        if model.tests[worth.test].kind == "jumper":
            over = model.compiled.jumper_amps[:, ids.index(worth.test)] > rating
            assert root.weights[over].sum() < HAZARD_SHARE


def test_what_nobody_can_read_is_refused(model):
    """Findings without any explanation, and names that do not exist, are refused with pointers."""
    with pytest.raises(ImpossibleFindingsError) as impossible:
        decide(model, [COMPLAINT, ReadingFinding("volts.C12-1.reminding", 500.0)])
    assert [p.pointer for p in impossible.value.problems] == ["#/findings/0", "#/findings/1"]
    with pytest.raises(RequestError) as unknown:
        decide(model, [COMPLAINT, OutcomeFinding("volts.C12-1.reminding", "purple")])
    assert [p.pointer for p in unknown.value.problems] == ["#/findings/1"]


def test_a_reading_that_fits_nothing_asks_for_a_recheck(model):
    """Nothing at fuse F8's output but full supply behind it cannot be: one of the two is a slip."""
    feed, unit = ReadingFinding("volts.F8-out.reminding", 0.0), ReadingFinding("volts.C12-1.reminding", 12.6)
    fits = decide(model, [COMPLAINT, unit])
    clash = decide(model, [COMPLAINT, feed, unit])
    assert fits.expected_slips < 0.1
    assert 0.5 < clash.expected_slips < 1.1
    assert clash.unlisted > fits.unlisted  # the rest is what this model does not contain
    assert RECHECK in clash.next.reason
    assert RECHECK not in fits.next.reason
