"""How many kills lose nothing, and what writing and reading a case cost.

    python -m bench.bench_cases [--kills N] [--place ADVISOR_STORE]      (from tests)

Without a place, an SQLite file in a new folder is used; a PostgreSQL database must be empty of cases of this name.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import fakes
import writers

from advisor.cases.book import CaseBook, Write
from advisor.store.store import Store

WRITERS = 3
KILLS_A_CASE = 50  # a case holds some thousand events


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--place")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = options.place or str(Path(folder) / "cases.sqlite")
        store = Store(place)
        store.upgrade()
        book = CaseBook(store, fakes.engine(), lambda: datetime.now(UTC))
        print(count_kills(book, place, Path(folder), options.kills))
        print(cost(book))
        store.close()


def count_kills(book: CaseBook, place: str, folder: Path, kills: int) -> str:
    """Kill writers, some dozens for each case, and say what was lost, what was doubled."""
    rng, lost, doubled, acknowledged, done = random.Random(1), 0, 0, 0, 0
    while done < kills:
        case = book.open({"circuit": "belt-reminder"}, Write()).id
        killed = writers.several(place, case, Path(tempfile.mkdtemp(dir=folder)), WRITERS)
        writers.kill_in_turns(killed, min(KILLS_A_CASE, kills - done), rng)
        texts = [event.body["text"] for event in book.read("shop", case).events[1:]]
        found = writers.lost_and_doubled(texts, {writer.name: writer.written for writer in killed})
        lost, doubled = lost + len(found[0]), doubled + len(found[1])
        acknowledged += sum(len(writer.written) for writer in killed)
        done += min(KILLS_A_CASE, kills - done)
    return f"{kills} kills among {WRITERS} writers: {acknowledged} acknowledged, {lost} lost, {doubled} doubled"


def cost(book: CaseBook, events: int = 200) -> str:
    """Give the medians of opening, adding to and reading a case [ms]."""
    took: dict[str, list[float]] = {"open": [], "append": [], "read": []}
    for _ in range(5):
        case = _timed(took["open"], lambda: book.open({"circuit": "belt-reminder"}, Write())).id
        for seq in range(1, events // 5):
            note = {"events": [{"kind": "note", "body": {"text": "x"}}]}
            _timed(took["append"], lambda: book.append(case, note, Write(seen=frozenset({seq}))))  # noqa: B023 - run at once
            _timed(took["read"], lambda: book.read("shop", case))  # noqa: B023 - run at once
    return ", ".join(f"{what} {statistics.median(times):.1f} ms" for what, times in took.items())


def _timed(times, work):
    began = time.perf_counter()
    result = work()
    times.append(1000 * (time.perf_counter() - began))
    return result


if __name__ == "__main__":
    main()
