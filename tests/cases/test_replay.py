"""What journals mean: every kind of event, undo, stretches, and what is refused."""

import journals
import pytest
from journals import journal, opened

from advisor.cases.replay import RefusedEventError, replay
from advisor.cases.upgrading import upgraded
from advisor.contract.event import Event
from advisor.errors import SchemaError

LOOK = {"test": "look.belt-lamp.prove-out"}
LIT, DARK = {**LOOK, "outcome": "lit"}, {**LOOK, "outcome": "dark"}
JUMPER = {"id": "jumper-1", "what": "jumper", "where": "C12/9"}
CLOSING = {"cause": "switch worn", "correction": "switch replaced", "cause_status": "confirmed"}


def answers(state) -> list[list[str]]:
    """Give symptoms and outcomes of each stretch."""
    return [
        [getattr(f.finding, "outcome", getattr(f.finding, "symptom", "declined")) for f in stretch.findings]
        for stretch in state.stretches
    ]


def refusal(*events: tuple) -> RefusedEventError:
    """Give the refusal of a journal."""
    with pytest.raises(RefusedEventError) as refused:
        replay(journal(*events))
    return refused.value


def test_a_case_begins_with_its_complaint():
    """The symptom of the opening is the first finding; without one there is none."""
    assert answers(replay(journal())) == [["lamp-stays-dark"]]
    assert answers(replay((opened(symptom=None),))) == [[]]


def test_details_come_later_and_can_be_taken_back():
    """What the counter learns later stands in place of what was said at opening; the rest stays."""
    told = ("details", {"vehicle": {"years": 9.0}, "words": "dark since the rain", "reference": "W-17"})
    state = replay(journal(told, ("details", {"reference": "W-18"})))
    assert (state.opened.reference, state.opened.words) == ("W-18", "dark since the rain")
    assert (state.opened.vehicle.years, state.opened.symptom) == (9.0, "lamp-stays-dark")
    assert replay(journal(told, ("retraction", {"of": 2}))).opened == replay(journal()).opened


def test_nothing_begins_otherwise():
    """A journal that begins with something else is refused."""
    with pytest.raises(RefusedEventError, match="begins with opened"):
        replay([Event(1, 1, journals.AT, "a", "note", {"text": "x"})])


def test_a_new_answer_retracts_the_old_one():
    """One test has one answer in a stretch; a declined test is an answer too."""
    state = replay(journal(("finding", LIT), ("finding", DARK)))
    assert answers(state) == [["lamp-stays-dark", "dark"]]
    assert state.retracted == {2}
    assert answers(replay(journal(("finding", LIT), ("declined", LOOK)))) == [["lamp-stays-dark", "declined"]]


def test_undoing_a_correction_brings_the_first_answer_back():
    """When the newer answer is retracted, the older one counts again."""
    state = replay(journal(("finding", LIT), ("finding", DARK), ("retraction", {"of": 3})))
    assert answers(state) == [["lamp-stays-dark", "lit"]]
    assert state.retracted == {3}


def test_undo_can_be_undone():
    """A retracted retraction retracts nothing, and the event can be retracted again."""
    events = [("finding", LIT), ("retraction", {"of": 2}), ("retraction", {"of": 3})]
    assert answers(replay(journal(*events))) == [["lamp-stays-dark", "lit"]]
    assert answers(replay(journal(*events, ("retraction", {"of": 2})))) == [["lamp-stays-dark"]]


@pytest.mark.parametrize(("of", "said"), [(9, "no event 9"), (3, "no event 3"), (1, "opened, which is not retracted")])
def test_a_retraction_needs_an_earlier_event(of, said):
    """What is not there, is later, or opened the case cannot be retracted."""
    refused = refusal(("finding", LIT), ("retraction", {"of": of}))
    assert (refused.seq, refused.where) == (3, "/of")
    assert said in refused.message


def test_nothing_is_retracted_twice():
    """A second retraction of the same event is refused."""
    assert "already" in refusal(("finding", LIT), ("retraction", {"of": 2}), ("retraction", {"of": 2})).message


@pytest.mark.parametrize("result", ["stays", "gone", "back"])
def test_a_repair_starts_the_next_stretch(result):
    """After a repair the same test may be answered anew, and both answers count."""
    state = replay(journal(("finding", LIT), ("repair", {"repair": "r", "result": result}), ("finding", DARK)))
    assert answers(state) == [["lamp-stays-dark", "lit"], ["dark"]]
    assert [mended.repair.result for mended in state.repairs] == [result]


def test_without_its_repair_two_stretches_are_one():
    """A retracted repair joins its stretches, and of two answers the later counts."""
    events = [("finding", LIT), ("repair", {"repair": "r", "result": "stays"}), ("finding", DARK)]
    assert answers(replay(journal(*events, ("retraction", {"of": 3})))) == [["lamp-stays-dark", "dark"]]


def test_what_is_on_keeps_a_case_open():
    """A case closes only when everything that was put on is off; the names that are not are given."""
    refused = refusal(("put-on", JUMPER), ("put-on", {"id": "F8", "what": "fuse-pulled"}), ("closed", CLOSING))
    assert "jumper-1, F8" in refused.message
    state = replay(journal(("put-on", JUMPER), ("put-back", {"id": "jumper-1"}), ("closed", CLOSING)))
    assert (state.status, dict(state.put_on)) == ("closed", {})


def test_put_on_and_back_go_in_turns():
    """Nothing is put on twice, or back without being on."""
    assert refusal(("put-on", JUMPER), ("put-on", JUMPER)).where == "/id"
    assert refusal(("put-back", {"id": "jumper-1"})).where == "/id"


def test_a_put_back_that_was_no_put_back_keeps_the_case_open():
    """Retracting it puts the jumper back among what is on."""
    state = replay(journal(("put-on", JUMPER), ("put-back", {"id": "jumper-1"}), ("retraction", {"of": 3})))
    assert list(state.put_on) == ["jumper-1"]


def test_a_closed_case_takes_only_what_does_not_change_it():
    """A note is taken, a finding is not, and after reopening it is."""
    assert "reopen" in refusal(("closed", CLOSING), ("finding", LIT)).message
    assert replay(journal(("closed", CLOSING), ("note", {"text": "rang"}))).status == "closed"
    again = replay(journal(("closed", CLOSING), ("reopened", {"why": "back"}), ("finding", LIT)))
    assert (again.status, again.closing) == ("open", None)
    assert "open" in refusal(("reopened", {"why": "x"})).message
    assert (
        "not retracted" in refusal(("closed", CLOSING), ("reopened", {"why": "x"}), ("retraction", {"of": 2})).message
    )


def test_places_count_once_and_money_adds_up():
    """A place is open once; authorisations stand side by side; declined work and notes are kept."""
    state = replay(
        journal(
            ("place-opened", {"place": "knee-panel"}),
            ("place-opened", {"place": "knee-panel"}),
            ("authorised", {"minutes": 60.0, "whom": "owner"}),
            ("authorised", {"money": 80.0, "whom": "owner"}),
            ("work-declined", {"what": "new cluster"}),
            ("note", {"text": "rain last night"}),
            ("worked", {"place": "knee-panel"}),
            ("worked", {"place": "knee-panel", "what": "work"}),
            ("worked", {"place": "knee-panel", "what": "equipment"}),
        )
    )
    assert [(work.place, work.what) for work in state.worked] == [("knee-panel", "work"), ("knee-panel", "equipment")]
    assert state.places == ("knee-panel",)
    assert [(item.minutes, item.money) for item in state.authorised] == [(60.0, None), (None, 80.0)]
    assert (state.work_declined[0].what, state.notes[0].text) == ("new cluster", "rain last night")


def test_not_fit_for_the_road_stays_until_lifted():
    """The sentence stays through closing, and goes with fit or with its retraction."""
    until = ("not-fit", {"until": "the stop lamps work"})
    assert replay(journal(until, ("closed", CLOSING))).not_fit_until == "the stop lamps work"
    assert replay(journal(until, ("fit", {"why": "lamps tried"}))).not_fit_until is None
    assert replay(journal(until, ("retraction", {"of": 2}))).not_fit_until is None


def test_a_replay_is_a_function_of_its_journal(rng):
    """Of a thousand random journals those that stand give the same state twice, as a slow twin gives it."""
    stood = 0
    for _ in range(1000):
        events = journals.random_journal(rng)
        try:
            state = replay(events)
        except RefusedEventError:
            assert not journals.stands(events)
            continue
        stood += 1
        assert state == replay(list(events))
        assert journals.stands(events)
        assert [(f.seq, f.about) for f in state.findings] == journals.slow_findings(events)
        assert sorted(state.put_on) == journals.slow_put_on(events)
    assert stood > 200


def test_older_forms_are_upgraded_one_by_one():
    """An event of form 1 goes through each step to the newest; a form without a step is refused."""
    event = Event(1, 1, journals.AT, "a", "note", {"words": "x"})
    steps = {
        1: lambda old: Event(1, old.seq, old.at, old.by, old.kind, {"text": old.body["words"]}),
        2: lambda old: Event(2, old.seq, old.at, old.by, old.kind, {"text": f"{old.body['text']}!"}),
    }
    assert upgraded(event, steps, 3) == Event(3, 1, journals.AT, "a", "note", {"text": "x!"})
    for v in (0, 2, 9):
        with pytest.raises(SchemaError, match=f"form {v}"):
            upgraded(Event(v, 1, journals.AT, "a", "note", {}))
