"""PostgreSQL stopped and started under load: what callers are told meanwhile, and how soon writing goes on.

python -m bench.bench_outage [--times N]      (from tests)
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import fakes
import servers
import writers
from databases import Server
from loads import Caller, Callers

from advisor.cases.book import CaseBook, Write
from advisor.store.store import Store

WRITERS = 8
AWAY = 2.0
"""How long the database is away each time [s]."""


@dataclass(frozen=True)
class Outage:
    """What callers were told, how long after the database was back the first write was acknowledged, what was lost."""

    statuses: Counter
    bad: tuple[str, ...]
    resumed: tuple[float, ...]
    acknowledged: int
    lost: int
    doubled: int

    def __str__(self) -> str:
        """Give the figures on a line."""
        told = ", ".join(f"{status}: {count}" for status, count in sorted(self.statuses.items()))
        return (
            f"{len(self.resumed)} outages of {AWAY:.0f} s under {WRITERS} writers: {told}; written again within "
            f"{max(self.resumed):.2f} s; {self.acknowledged} acknowledged, {self.lost} lost, {self.doubled} doubled; "
            f"{len(self.bad)} other answers {self.bad[:3]}"
        )


def run(folder: Path, times: int, away: float = AWAY, engine: str = servers.HAND_BUILT) -> Outage:
    """Stop and start the database under writers."""
    server = Server(durable=True).start()
    try:
        place = server.database()
        store = Store(place)
        store.upgrade()
        token, book = servers.a_token(place), CaseBook(store, fakes.engine(), lambda: datetime.now(UTC))
        cases = [book.open({"circuit": "belt-reminder"}, Write()).id for _ in range(WRITERS // 2)]
        with servers.waitress(place, folder, "--tokens", "--rate", "0", engine=engine) as served:
            callers = [Caller(served.port, token, cases[n // 2], f"writer-{n}") for n in range(WRITERS)]
            resumed = []
            with Callers(callers) as at_work:
                for _ in range(times):
                    at_work.wait_for(5, 60.0)
                    server.pause()
                    time.sleep(away)
                    server.resume()
                    began = time.monotonic()
                    at_work.wait_for(1, 60.0)
                    resumed.append(time.monotonic() - began)
                at_work.wait_for(5, 60.0)
        journals = store.read(lambda read: read.events(cases))
        store.close()
    finally:
        server.stop()
    texts = [str(event.body["text"]) for journal in journals.values() for event in journal[1:]]
    told = {caller.name: {int(text.rpartition("-")[2]) for text in caller.written} for caller in callers}
    lost, doubled = writers.lost_and_doubled(texts, told)
    return Outage(
        sum((caller.statuses for caller in callers), Counter()),
        tuple(text for caller in callers for text in caller.bad),
        tuple(resumed),
        sum(len(caller.written) for caller in callers),
        len(lost),
        len(doubled),
    )


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=10)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        print(run(Path(folder), options.times, engine=servers.SHIPPED))


if __name__ == "__main__":
    main()
