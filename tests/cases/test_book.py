"""The book of cases on both databases: opening, adding, conflicts, repeated requests, releases, advice."""

import json
import threading
from dataclasses import replace
from datetime import timedelta

import fakes
import pytest
from journals import AT

from advisor.cases.book import CaseBook, Write
from advisor.contract import service
from advisor.contract.case_queries import AdviceQuery, CasesQuery
from advisor.contract.event import StaleCaseError
from advisor.errors import (
    CaseStateError,
    ImpossibleFindingsError,
    KeyReusedError,
    RequestError,
    UnknownCaseError,
    UnknownModelError,
)
from advisor.store.records import Key

COMPLAINT = {"circuit": "belt-reminder", "symptom": "lamp-stays-dark", "reference": "A-17", "by": "anna"}
LIT = {"kind": "finding", "body": {"test": "look.belt-lamp.prove-out", "outcome": "lit"}}
READ = {"kind": "finding", "body": {"test": "volts.C12-7.reminding", "value": 11.8, "unit": "V"}}
CLOSED = {"kind": "closed", "body": {"cause": "switch", "correction": "new one", "cause_status": "believed"}}


class Clock:
    """A clock that goes a minute with each look."""

    def __init__(self):
        self.at = AT

    def __call__(self):
        """Give the next minute."""
        self.at += timedelta(minutes=1)
        return self.at


@pytest.fixture
def book(store):
    """Give a book over the hand-built engine."""
    return CaseBook(store, fakes.engine(), Clock())


def after(*versions: int, key: Key | None = None) -> Write:
    """Say which versions a write has seen."""
    return Write(key=key, seen=frozenset(versions))


def key(name: str = "key-1", route: str = "POST /v1/cases", fingerprint: str = "a" * 64) -> Key:
    """Give an idempotency key."""
    return Key("shop", "", route, name, fingerprint)


def added(book, case, *events, seen, by="anna"):
    """Add events to a case."""
    return book.append(case, {"by": by, "events": list(events)}, after(seen))


def test_a_case_opens_with_what_is_known(book):
    """The answer of opening and of reading are one, and name the release."""
    told = {**COMPLAINT, "words": "stays dark", "identity": "QX 1", "vehicle": {"years": 4, "odometer_km": 90_000}}
    case = book.open(told, Write())
    assert case == book.read("shop", case.id)
    assert (case.version, case.state, case.words, case.vehicle.odometer_km) == (1, "open", "stays dark", 90_000)
    assert case.release.knowledge == fakes.MODEL.knowledge
    assert case.release_changed is False
    assert [event.by for event in case.events] == ["anna"]


def test_the_least_that_opens_a_case_is_its_circuit(book):
    """The paperwork may come later."""
    case = book.open({"circuit": "belt-reminder"}, Write())
    assert case.stretches[0].findings == ()


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"circuit": "nope"}, "#/circuit"),
        ({"symptom": "nope"}, "#/symptom"),
        ({"comeback_of": "nope"}, "#/comeback_of"),
        ({"words": "a\x00b"}, "#/words"),
        ({"vehicle": {"years": "4"}}, "#/vehicle/years"),
        ({"vehicle": {"yeers": 4}}, "#/vehicle/yeers"),
        ({"extra": 1}, "#/extra"),
    ],
)
def test_a_wrong_opening_points(book, change, where):
    """What is wrong is pointed at, and nothing is opened."""
    with pytest.raises(RequestError) as refused:
        book.open({**COMPLAINT, **change}, Write())
    assert [problem.pointer for problem in refused.value.problems] == [where]
    assert book.list("shop", CasesQuery()).cases == ()


@pytest.mark.parametrize(
    ("event", "where"),
    [
        ({"kind": "finding", "body": {"test": "nope", "outcome": "lit"}}, "#/events/1/body/test"),
        ({"kind": "finding", "body": {**LIT["body"], "outcome": "nope"}}, "#/events/1/body/outcome"),
        (
            {"kind": "finding", "body": {"test": "volts.C12-7.reminding", "reading": {"value": 1, "unit": "A"}}},
            "#/events/1/body/reading/unit",
        ),
        ({"kind": "finding", "body": {"symptom": "nope"}}, "#/events/1/body/symptom"),
        ({"kind": "declined", "body": {"test": "jumper.C12-1-to-ground.reminding"}}, "#/events/1/body/test"),
        ({"kind": "place-opened", "body": {"place": "attic"}}, "#/events/1/body/place"),
        ({"kind": "closed", "body": {**CLOSED["body"], "causes": ["G4/open", "x/y"]}}, "#/events/1/body/causes/1"),
        ({"kind": "comeback", "body": {"of": "nope"}}, "#/events/1/body/of"),
        ({"kind": "retraction", "body": {"of": 7}}, "#/events/1/body/of"),
        ({"kind": "put-back", "body": {"id": "j"}}, "#/events/1/body/id"),
        ({"kind": "reopened", "body": {"why": "x"}}, "#/events/1"),
        ({"kind": "nope", "body": {}}, "#/events/1"),
    ],
)
def test_a_wrong_event_points_and_nothing_is_added(book, event, where):
    """One wrong event keeps the good one before it out."""
    case = book.open(COMPLAINT, Write())
    with pytest.raises(RequestError) as refused:
        added(book, case.id, LIT, event, seen=1)
    assert [problem.pointer for problem in refused.value.problems] == [where]
    assert book.read("shop", case.id).version == 1


def test_a_case_does_not_come_back_from_itself(book):
    """A link leads to another case, which is then named."""
    first = book.open(COMPLAINT, Write())
    with pytest.raises(RequestError, match="itself"):
        added(book, first.id, {"kind": "comeback", "body": {"of": first.id}}, seen=1)
    second = book.open({**COMPLAINT, "comeback_of": first.id}, Write())
    assert (second.comeback_of, second.version) == (first.id, 2)


def test_a_write_that_has_not_seen_all_is_told_what_changed(book):
    """The conflict carries the events since the version that was seen, and writes nothing."""
    case = book.open(COMPLAINT, Write())
    added(book, case.id, LIT, seen=1, by="first bench")
    with pytest.raises(StaleCaseError) as stale:
        added(book, case.id, READ, seen=1, by="second bench")
    assert (stale.value.version, [event.by for event in stale.value.changed]) == (2, ["first bench"])
    assert added(book, case.id, READ, seen=2).version == 3
    with pytest.raises(StaleCaseError):
        book.append(case.id, {"events": [READ]}, after(99))


def test_a_case_closes_once_everything_is_put_back(book):
    """Closing with a jumper on is refused; off, it closes; the state is in the list."""
    case = book.open(COMPLAINT, Write())
    on = {"kind": "put-on", "body": {"id": "j1", "what": "jumper"}}
    added(book, case.id, on, seen=1)
    with pytest.raises(CaseStateError, match="j1"):
        added(book, case.id, CLOSED, seen=2)
    closed = added(book, case.id, {"kind": "put-back", "body": {"id": "j1"}}, CLOSED, seen=2)
    assert (closed.state, closed.closing.may_come_back) == ("closed", True)
    assert [row.state for row in book.list("shop", CasesQuery(state="closed")).cases] == ["closed"]


def test_an_older_event_that_could_not_stand_is_named(book):
    """Retracting a put-on while its put-back stands is refused, naming the put-back."""
    case = book.open(COMPLAINT, Write())
    added(book, case.id, {"kind": "put-on", "body": {"id": "j", "what": "jumper"}}, seen=1)
    added(book, case.id, {"kind": "put-back", "body": {"id": "j"}}, seen=2)
    with pytest.raises(CaseStateError, match="event 3 would not stand"):
        added(book, case.id, {"kind": "retraction", "body": {"of": 2}}, seen=3)


def test_a_repeated_request_is_done_once(book):
    """The same request with the same key gives the same answer, though the case has gone on; another request none."""
    first = book.open(COMPLAINT, Write(key=key()))
    again = Write(key=key(route="events"), seen=frozenset({1}))
    once = book.append(first.id, {"events": [LIT]}, again)
    added(book, first.id, READ, seen=2)
    assert book.open(COMPLAINT, Write(key=key())) == first
    assert book.append(first.id, {"events": [LIT]}, again) == once
    assert book.read("shop", first.id).version == 3
    with pytest.raises(KeyReusedError):
        book.open({**COMPLAINT, "by": "eva"}, Write(key=key(fingerprint="b" * 64)))
    assert len(book.list("shop", CasesQuery()).cases) == 1


def test_a_key_of_one_case_does_nothing_in_another(book):
    """A caller whose keys do not name the case is refused, and is not told that its event was written."""
    first, second = book.open(COMPLAINT, Write()).id, book.open(COMPLAINT, Write()).id
    write = Write(key=key(route="events"), seen=frozenset({1}))
    book.append(first, {"events": [LIT]}, write)
    with pytest.raises(KeyReusedError):
        book.append(second, {"events": [LIT]}, write)
    assert book.read("shop", second).version == 1


def test_one_key_sent_by_many_at_once_is_done_once(book):
    """Six writers open a case with one key: all get the same case, and there is one."""
    got, failed = [], []

    def send():
        try:
            got.append(book.open(COMPLAINT, Write(key=key())).id)
        except Exception as error:
            failed.append(error)

    writers = [threading.Thread(target=send) for _ in range(6)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert failed == []
    assert (len(got), len(set(got)), len(book.list("shop", CasesQuery()).cases)) == (6, 1, 1)


def test_two_benches_at_once(book):
    """Of writers that all have seen version 1, one writes and the others are told of its event."""
    case = book.open(COMPLAINT, Write()).id
    wrote, stale = [], []

    def send(number):
        try:
            wrote.append(added(book, case, LIT, seen=1, by=f"bench-{number}").events[1].by)
        except StaleCaseError as error:
            stale.append(error.changed[0].by)

    writers = [threading.Thread(target=send, args=(number,)) for number in range(6)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert len(wrote) == 1
    assert stale == wrote * 5
    assert book.read("shop", case).version == 2


def test_another_release_is_shown(book):
    """A case opened under other knowledge says so, on reading and beside its advice, and keeps its own."""
    case = book.open(COMPLAINT, Write()).id
    newer = replace(fakes.MODEL, knowledge="sha256:" + "1" * 64)
    later = CaseBook(book.store, fakes.engine(load=lambda _: newer), book.now)
    shown = later.read("shop", case)
    assert shown.release_changed is True
    assert (shown.release.knowledge, shown.release_now.knowledge) == (fakes.MODEL.knowledge, newer.knowledge)
    assert later.advice("shop", case, AdviceQuery()).release_changed is True
    assert book.advice("shop", case, AdviceQuery()).release_changed is False


def test_a_case_outlives_its_circuit(book):
    """Where the circuit is gone the case is read, what is on is put back, and advice says what is missing."""

    def gone(name):
        raise UnknownModelError(f"no circuit {name}")

    case = book.open(COMPLAINT, Write()).id
    added(book, case, {"kind": "put-on", "body": {"id": "j", "what": "bypass"}}, seen=1)
    later = CaseBook(book.store, fakes.engine(load=gone), book.now)
    shown = added(later, case, {"kind": "put-back", "body": {"id": "j"}}, seen=2)
    assert (shown.release_now, shown.release_changed) == (None, True)
    with pytest.raises(RequestError, match="no circuit"):
        later.advice("shop", case, AdviceQuery())


def test_advice_on_a_case_is_advice_on_its_findings(book):
    """The answer is that of the plain request with the same findings, places and prices."""
    case = book.open({**COMPLAINT, "costs": {"labour_per_hour": 60}, "vehicle": {"years": 2, "hours": 900}}, Write()).id
    opened = {"kind": "place-opened", "body": {"place": "knee-panel"}}
    skip = {"kind": "declined", "body": {"test": "volts.X31-1.reminding"}}
    added(book, case, LIT, READ, opened, skip, {"kind": "note", "body": {"text": "x"}}, seen=1)
    request = {
        "circuit": "belt-reminder",
        "vehicle": {"years": 2, "hours": 900},
        "findings": [
            {"symptom": "lamp-stays-dark"},
            LIT["body"],
            READ["body"],
            {"kind": "declined", "test": "volts.X31-1.reminding"},
        ],
        "opened": ["knee-panel"],
        "costs": {"labour_per_hour": 60},
        "depth": 1,
        "reasons": True,
    }
    plain = service.answer(json.dumps(request).encode(), fakes.engine())
    assert book.advice("shop", case, AdviceQuery(depth="1", reasons="true")).advice == plain


def test_impossible_findings_point_at_their_events(book):
    """Where the findings cannot all be true, the pointers lead into the journal."""
    case = book.open(COMPLAINT, Write()).id
    never = {"kind": "finding", "body": {"test": "volts.C12-1.reminding", "value": 999, "unit": "V"}}
    added(book, case, {"kind": "note", "body": {"text": "x"}}, never, seen=1)
    with pytest.raises(ImpossibleFindingsError) as impossible:
        book.advice("shop", case, AdviceQuery())
    assert [problem.pointer for problem in impossible.value.problems] == ["#/events/2/body"]
    assert book.read("shop", case).events[2].body["value"] == 999


def test_a_journal_has_an_end(book, monkeypatch):
    """A case that would grow beyond its bound is refused in words, and keeps what it has."""
    monkeypatch.setattr("advisor.cases.writing.MAX_JOURNAL", 3)
    case = book.open(COMPLAINT, Write()).id
    added(book, case, LIT, READ, seen=1)
    with pytest.raises(CaseStateError, match="at most 3 events"):
        added(book, case, {"kind": "note", "body": {"text": "x"}}, seen=3)
    assert book.read("shop", case).version == 3


def test_no_shop_reads_another(book):
    """A case of another shop is no case."""
    case = book.open(COMPLAINT, Write()).id
    for act in (
        lambda: book.read("other", case),
        lambda: book.advice("other", case, AdviceQuery()),
        lambda: book.append(case, {"events": [LIT]}, replace(after(1), shop="other")),
    ):
        with pytest.raises(UnknownCaseError):
            act()
    assert book.list("other", CasesQuery()).cases == ()


def test_an_erased_case_still_reads_and_goes_on(book):
    """After erasing, the case replays, takes events and closes."""
    case = book.open({**COMPLAINT, "words": "Ms X says"}, Write()).id
    added(book, case, {"kind": "authorised", "body": {"minutes": 60, "whom": "Ms X"}}, seen=1)
    book.store.write(lambda w: w.erase(case))
    shown = added(book, case, CLOSED, seen=2)
    assert (shown.words, shown.authorised.minutes, shown.state) == ("[erased]", 60, "closed")
