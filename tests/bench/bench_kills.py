"""Kills of a worker, and of the whole server, at random moments under 16 writers: what is lost, what is doubled.

    python -m bench.bench_kills [--kills N] [--place sqlite|postgresql]      (from tests)

The server is gunicorn with two workers on the shipped circuits, as a bigger site runs it; every fourth kill is of the
whole server, which is started again. PostgreSQL is a server of our own that writes through to the disk.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import fakes
import servers
import writers
from databases import Server
from loads import Caller, Callers

from advisor.cases.book import CaseBook, Write
from advisor.cases.replay import replay
from advisor.store.store import Store

WRITERS, A_CASE, WORKERS = 16, 2, 2
KILLS_A_ROUND = 20  # a case holds 2,000 events
WHOLE = 4


@dataclass(frozen=True)
class Counted:
    """What a bench of kills has found."""

    kills: int
    acknowledged: int
    lost: int
    doubled: int
    bad: tuple[str, ...]

    def __str__(self) -> str:
        """Give the figures on a line."""
        return (
            f"{self.kills} kills under {WRITERS} writers: {self.acknowledged} acknowledged, {self.lost} lost, "
            f"{self.doubled} doubled, {len(self.bad)} answers that should not be {self.bad[:3]}"
        )


@contextmanager
def durable(kind: str, folder: Path) -> Iterator[str]:
    """Give a place that writes through to the disk."""
    if kind == "sqlite":
        yield str(folder / "cases.sqlite")
        return
    server = Server(durable=True).start()
    try:
        yield server.database()
    finally:
        server.stop()


def count(place: str, folder: Path, kills: int, rng: random.Random, count: int = WRITERS) -> Counted:
    """Kill in rounds, each with cases of its own, and look at every journal."""
    store = Store(place)
    store.upgrade()
    token, book = servers.a_token(place), CaseBook(store, fakes.engine(), lambda: datetime.now(UTC))
    served, found = servers.gunicorn(place, folder, WORKERS), Counted(0, 0, 0, 0, ())
    served.start()
    try:
        while found.kills < kills:
            cases = [book.open({"circuit": "belt-reminder"}, Write()).id for _ in range(count // A_CASE)]
            callers = [Caller(served.port, token, cases[n // A_CASE], f"writer-{n}") for n in range(count)]
            here = min(KILLS_A_ROUND, kills - found.kills)
            with Callers(callers) as at_work:
                for number in range(here):
                    at_work.wait_for(3, 120.0)
                    time.sleep(rng.uniform(0.0, 0.2))
                    _kill(served, whole=number % WHOLE == WHOLE - 1, rng=rng)
                at_work.wait_for(3, 120.0)
            found = _added(found, here, store, callers)
    finally:
        served.kill()
        store.close()
    return found


def _added(found: Counted, kills: int, store: Store, callers: list[Caller]) -> Counted:
    """Hold what callers were told against the journals, each of which has to replay."""
    journals = store.read(lambda read: read.events([caller.case for caller in callers]))
    texts = []
    for journal in journals.values():
        assert replay(journal).version == len(journal)
        assert [event.seq for event in journal] == list(range(1, len(journal) + 1))
        texts += [str(event.body["text"]) for event in journal[1:]]
    told = {caller.name: {int(text.rpartition("-")[2]) for text in caller.written} for caller in callers}
    lost, doubled = writers.lost_and_doubled(texts, told)
    return Counted(
        found.kills + kills,
        found.acknowledged + sum(len(caller.written) for caller in callers),
        found.lost + len(lost),
        found.doubled + len(doubled),
        (*found.bad, *(text for caller in callers for text in caller.bad)),
    )


def _kill(served: servers.Served, *, whole: bool, rng: random.Random) -> None:
    if whole:
        served.kill()
        served.start()
        return
    workers = _children(served.process.pid)
    if workers:
        os.kill(rng.choice(workers), signal.SIGKILL)


def _children(process: int) -> list[int]:
    found = subprocess.run(["ps", "-o", "pid=", "--ppid", str(process)], capture_output=True, text=True, check=False)
    return [int(line) for line in found.stdout.split()]


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--place", choices=("sqlite", "postgresql"), default="sqlite")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, durable(options.place, Path(folder)) as place:
        print(f"{options.place}: {count(place, Path(folder), options.kills, random.Random(1))}")


if __name__ == "__main__":
    main()
