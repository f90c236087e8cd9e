"""Where somebody has worked, faults that work brings are likelier: rates are multiplied, and nothing else."""

import numpy as np
import pytest

import advisor
from advisor.contract.request import WorkedIn
from advisor.contract.service import answer_body
from advisor.contract.worked import after_work
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.telling import WORK_TIMES

COMPLAINT = {"symptom": "lamp-stays-dark"}
SEAT = {"place": "under-seat"}


def answer(*worked: dict, circuit: str = "belt-reminder", **more: object):
    """Give the answer one step ahead."""
    body = {"circuit": circuit, "findings": [COMPLAINT], "worked": [*worked], "depth": 1, **more}
    return answer_body(body, advisor.shipped_engine())


def odds(answer, one: str, other: str) -> float:
    """Give the odds of two causes."""
    share = {cause.cause: cause.probability for cause in answer.causes}
    return share[one] / share[other]


def test_by_how_much():
    """Bayes' rule over ten faults in a hundred that come of work, on vehicles of which one in twenty was worked on.

    Of 1,000 faults at a place 100 come of work there, and of the other 900 one in twenty, 45, was worked on by chance:
    145 in all, where chance alone would have 50.
    """
    assert pytest.approx((100 + 900 / 20) / (1000 / 20)) == WORK_TIMES


@pytest.mark.parametrize(
    ("work", "contact", "wire"),
    [
        ({"what": "work"}, True, True),
        ({}, True, True),
        ({"what": "equipment"}, False, True),
    ],
)
def test_which_parts_are_meant(work, contact, wire):
    """Work under the seat disturbs contacts and wires there, equipment is tapped into wires; the fuse is elsewhere."""
    plain, told = answer(), answer({**SEAT, **work})
    for cause, is_meant in (("X31/1/open", contact), ("W106/open", wire), ("belt-lamp/open", False)):
        times = odds(told, cause, "F8/open") / odds(plain, cause, "F8/open")
        assert times == pytest.approx(WORK_TIMES if is_meant else 1.0, rel=0.03), cause  # two faults at once weigh too


def test_what_lies_inside_is_meant_too():
    """The seat's loom lies under the seat; the place behind the panel does not."""
    plain, told = answer(), answer(SEAT)
    assert odds(told, "W105/open", "W107/open") > 2.5 * odds(plain, "W105/open", "W107/open")


def test_only_rates_move():
    """The expected faults of each severity are those of the library times the factor, exactly."""
    model = advisor.load("belt-reminder")
    rates = model.prevalence(Vehicle())
    told = after_work(model, [WorkedIn(place="under-seat")])
    ratio = told.prevalence(Vehicle()) / rates
    assert sorted({round(value, 9) for value in ratio}) == [1.0, pytest.approx(WORK_TIMES)]
    assert told.worlds is model.worlds
    assert after_work(model, []) is after_work(model, [WorkedIn(place="behind-vehicle")]) is model


def test_it_comes_on_top_of_a_release():
    """A release's own factors stay, and the answer names the release and not the work."""
    model = advisor.load("belt-reminder").with_priors("north-1", {"X31/1/open": 4.0, "F8/open": 2.0})
    told = after_work(model, [WorkedIn(place="under-seat"), WorkedIn(place="under-seat", what="equipment")])
    assert (told.factors["X31/1/open"], told.factors["F8/open"]) == (pytest.approx(4.0 * WORK_TIMES), 2.0)
    assert answer(SEAT).release == answer().release


def test_a_place_that_is_not_there_is_refused():
    """With its pointer and what it could have been."""
    with pytest.raises(advisor.RequestError, match="under-seat") as refused:
        answer({"place": "knee-panel"}, {"place": "under-sea"})
    assert [problem.pointer for problem in refused.value.problems] == ["#/worked/1/place"]


def test_a_model_of_tables_has_nothing_that_work_disturbs():
    """Its answer stays the same."""
    body = {"circuit": "engine-runs-hot", "findings": [{"symptom": "hot-in-traffic"}], "depth": 1}
    plain, told = (
        answer_body({**body, "worked": worked}, advisor.shipped_engine()) for worked in ([], [{"place": "engine-bay"}])
    )
    assert np.allclose([c.probability for c in plain.causes], [c.probability for c in told.causes])
