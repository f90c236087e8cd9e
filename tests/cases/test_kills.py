"""Writers killed at random moments: every acknowledged event is there, once; tests/bench counts many more kills."""

import random

import fakes
import pytest
import writers
from databases import Server
from journals import AT

from advisor.cases.book import CaseBook, Write
from advisor.store.store import Store

KILLS, WRITERS = 10, 3


@pytest.fixture(params=["sqlite", "postgresql"])
def durable(request, tmp_path):
    """Give a place that writes through to the disk."""
    if request.param == "sqlite":
        yield str(tmp_path / "cases.sqlite")
        return
    server = Server(durable=True).start()
    try:
        place = server.database()
        store = Store(place)
        store.upgrade()
        store.close()
        yield place
    finally:
        server.stop()


def test_what_was_acknowledged_is_there_once(durable, tmp_path):
    """Ten kills among three writers of one case lose nothing and double nothing, and the journal replays."""
    store = Store(durable)
    book = CaseBook(store, fakes.engine(), lambda: AT)
    case = book.open({"circuit": "belt-reminder"}, Write()).id
    killed = writers.several(durable, case, tmp_path, WRITERS)
    writers.kill_in_turns(killed, KILLS, random.Random(7))
    acknowledged = {writer.name: writer.written for writer in killed}
    shown = book.read("shop", case)
    texts = [event.body["text"] for event in shown.events[1:]]
    assert writers.lost_and_doubled(texts, acknowledged) == ([], [])
    assert sum(map(len, acknowledged.values())) >= KILLS
    assert [event.seq for event in shown.events] == list(range(1, len(texts) + 2))
    store.close()


def test_the_count_sees_a_lost_and_a_doubled_event():
    """A planted gap and a planted double are both found."""
    assert writers.lost_and_doubled(["w-1", "w-3", "w-3"], {"w": {1, 2, 3}}) == (["w-2"], ["w-3"])
