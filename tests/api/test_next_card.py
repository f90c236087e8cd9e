"""What the page puts first."""

import fakes
import pytest

from advisor.cases.looking import Advised
from advisor.contract import service
from advisor.contract.answer import NextOut
from advisor.contract.case_answer import AmountOut, CaseOut
from advisor.contract.case_bodies import CaseVehicle, PutOn
from advisor.contract.request import CostsIn
from api.next_card import VERDICTS, next_card

BODY = {"circuit": "belt-reminder", "findings": [{"symptom": "lamp-stays-dark"}]}
NOTHING = AmountOut(minutes=None, money=None)


@pytest.fixture
def answer():
    """Give the answer to a bare complaint."""
    return service.answer_body(BODY, fakes.engine())


def case(answer, *, gone: bool = False, put_on: tuple[PutOn, ...] = ()) -> CaseOut:
    """Give a case as the card reads it: what a last repair did, and what is on the vehicle."""
    mended = {"seq": 2, "repair": {"repair": "buckle-side", "result": "gone"}}
    stretch = {"findings": [], "repair_after": mended if gone else None}
    told = dict.fromkeys(("reference", "symptom", "words", "identity", "not_fit_until", "closing", "comeback_of"))
    known = {"id": "c", "version": 1, "state": "open", "circuit": "belt-reminder", "release_changed": False, **told}
    empty = dict.fromkeys(("places_opened", "work_declined", "worked", "notes", "events"), ())
    times = dict.fromkeys(("opened_at", "changed_at"), "2026-03-02T08:00:00Z")
    parts = {"vehicle": CaseVehicle(), "costs": CostsIn(), "release": answer.release, "release_now": None}
    sums = {"authorised": NOTHING, "spent": NOTHING, "put_on": put_on, "stretches": [stretch]}
    return CaseOut.model_validate({**known, **empty, **times, **parts, **sums})


def card(answer, test: str | None = None, **case_as: object):
    """Give the card of an answer, with a test that is looked at."""
    looked_at = next((row for row in answer.tests if row.test == test), None)
    return next_card(case(answer, **case_as), Advised(answer, (), looked_at), fakes.SCHEMATIC, mirrored=False)


def test_the_advice_comes_first(answer):
    """The advised test is shown with the advice's own reason."""
    made = card(answer, answer.next.id)
    assert (made.test.test, made.kind, made.kicker) == (answer.next.id, "test", "Test next")
    assert made.why == "It splits the likely causes best for its price."


def test_the_readers_choice_is_called_so(answer):
    """A picked test is shown as the reader's choice."""
    made = card(answer, "volts.C12-1.reminding")
    assert (made.test.test, made.kicker) == ("volts.C12-1.reminding", "You chose")


@pytest.mark.parametrize("kind", VERDICTS)
def test_every_verdict_has_words(answer, kind):
    """Each verdict has a title and says what to do."""
    as_none = {"unshown": "no_fault", "proved": "no_fault"}
    said = NextOut(kind=as_none.get(kind, kind), id=None, reason="so it is")
    told = answer.model_copy(update={"next": said, "no_fault": 0.9 if kind == "no_fault" else 0.1})
    made = card(told, gone=kind == "proved")
    assert (made.title, made.text) == VERDICTS[kind]
    assert made.why == "So it is."


def test_good_is_always_the_last_button(answer):
    """The button of the good outcome stands last, next to the thumb, whatever the order in the test."""
    for test in answer.tests:
        assert [button.good for button in card(answer, test.test).test.buttons].index(True) == (len(test.outcomes) - 1)


def test_what_is_in_the_way_is_put_back_first(answer):
    """A plug that hangs apart from an earlier test goes together before one that wants it so, and not before others."""
    apart = (PutOn(id="C12", what="unplugged"),)
    assert card(answer, "volts.C12-1.reminding", put_on=apart).test.apart == apart
    assert card(answer, "jumper.C12-9-to-ground.reminding", put_on=apart).test.apart == ()
