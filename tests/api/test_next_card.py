"""What the page puts first."""

import json

import fakes
import pytest

from advisor.contract import service
from advisor.contract.answer import NextOut
from advisor.contract.request import CostsIn
from api.case_query import CaseQuery
from api.next_card import VERDICTS, next_card

CASE = CaseQuery("belt-reminder", (("symptom", "lamp-stays-dark"),))


@pytest.fixture
def answer():
    """Give the answer to a bare complaint."""
    return service.answer(json.dumps(CASE.body()).encode(), fakes.engine())


def card(answer, query=CASE):
    """Give the card of an answer."""
    return next_card(query, answer, fakes.SCHEMATIC, CostsIn())


def test_the_advice_comes_first(answer):
    """Without a choice of the reader the advised test is shown with the advice's own reason."""
    made = card(answer)
    assert (made.test.test, made.why) == (answer.next.id, "It splits the likely causes best for its price.")


def test_the_readers_choice_comes_before_the_advice(answer):
    """A picked test is shown as the reader's choice."""
    made = card(answer, CASE.seen(pick="volts.C12-1.reminding"))
    assert (made.test.test, made.picked) == ("volts.C12-1.reminding", True)


def test_a_pick_that_is_no_test_is_ignored(answer):
    """A pick of something that is not proposed changes nothing."""
    assert card(answer, CASE.seen(pick="nope")).test.test == answer.next.id


def test_the_best_that_is_left_replaces_a_skipped_test(answer):
    """When the advised test is left out, the next by worth is shown."""
    query = CASE.plus(("skip", answer.next.id))
    made = card(service.answer(json.dumps(query.body()).encode(), fakes.engine()), query)
    assert made.test.test == next(test.test for test in answer.tests if test.test != answer.next.id)


@pytest.mark.parametrize("kind", VERDICTS)
def test_every_verdict_has_words(answer, kind):
    """Each verdict has a title and says what to do."""
    said = NextOut(kind="no_fault" if kind == "unshown" else kind, id=None, reason="so it is")
    made = card(answer.model_copy(update={"next": said, "no_fault": 0.9 if kind == "no_fault" else 0.1}))
    assert (made.title, made.text) == VERDICTS[kind]
    assert made.why == "So it is."


def test_good_is_always_the_first_button(answer):
    """The button of the good outcome stands first, whatever the order in the test."""
    for test in answer.tests:
        buttons = card(answer, CASE.seen(pick=test.test)).test.buttons
        assert [button.good for button in buttons].index(True) == 0
