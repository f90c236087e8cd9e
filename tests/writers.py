"""Processes that write to one case without end, killed at random moments: what they were told is written must be there.

Each writer gives every event a name of its own and sends it with an idempotency key; after a conflict it looks again,
and after a kill the next writer of the same name sends the last event again, since nobody knows whether it went in.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import time
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime
from multiprocessing import forkserver
from pathlib import Path

import fakes

from advisor.cases.book import CaseBook, Write
from advisor.contract.event import StaleCaseError
from advisor.store.records import Key
from advisor.store.store import Store

# Processes are forked from one that has loaded everything and connected to nothing.
PROCESSES = multiprocessing.get_context("forkserver")
PROCESSES.set_forkserver_preload(["writers"])
ROOT = Path(__file__).resolve().parents[1]
PATIENCE = 60.0  # [s] until a writer has written once, on a busy machine


def write_on(place: str, case: str, name: str, number: int, said: str) -> None:
    """Write events one after the other, from a number on, and say each in a file only once it is acknowledged."""
    out = os.open(said, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    book = CaseBook(Store(place), fakes.engine(), lambda: datetime.now(UTC))
    seen = book.read("shop", case).version
    while True:
        text = f"{name}-{number}"
        os.write(out, f"sent {number}\n".encode())
        write = Write(key=Key("shop", "", f"events of {case}", text, "f" * 64), seen=frozenset({seen}))
        try:
            seen = book.append(case, {"by": name, "events": [{"kind": "note", "body": {"text": text}}]}, write).version
        except StaleCaseError as error:
            seen = error.version
            continue
        os.write(out, f"written {number}\n".encode())
        number += 1
        time.sleep(random.uniform(0.0, 0.02))  # or one that always knows the last version would never let others in


@dataclass
class Writer:
    """One name's process, and the file in which it and those before it said what they did."""

    place: str
    case: str
    name: str
    said: Path
    process: multiprocessing.process.BaseProcess | None = field(default=None, repr=False)

    def start(self) -> None:
        """Start a process that begins with what the one before may not have written, and wait until it has written."""
        before = len(self.written)
        begin = max(self._numbers("sent"), default=1)
        arguments = (self.place, self.case, self.name, begin, str(self.said))
        self.process = PROCESSES.Process(target=write_on, args=arguments, daemon=True)
        self.process.start()
        end = time.monotonic() + PATIENCE
        while len(self.written) == before:
            assert self.process.is_alive() and time.monotonic() < end, f"{self.name} does not write"
            time.sleep(0.005)

    def kill(self) -> None:
        """Kill it without warning."""
        self.process.kill()
        self.process.join()

    @property
    def written(self) -> set[int]:
        """The numbers of the events that were acknowledged."""
        return set(self._numbers("written"))

    def _numbers(self, what: str) -> list[int]:
        lines = self.said.read_text().splitlines() if self.said.exists() else []
        return [int(number) for word, number in map(str.split, lines) if word == what]


def several(place: str, case: str, folder: Path, count: int) -> list[Writer]:
    """Give writers of one case, not started."""
    return [Writer(place, case, f"writer-{number}", folder / f"said-{number}") for number in range(count)]


def kill_in_turns(running: list[Writer], kills: int, rng: random.Random) -> None:
    """Let writers write, kill one after the other at random moments, and leave all dead."""
    _load_once()
    try:
        for writer in running:
            writer.start()
        for _ in range(kills):
            writer = rng.choice(running)
            time.sleep(rng.uniform(0.0, 0.05))
            writer.kill()
            writer.start()
    finally:
        for writer in running:
            writer.kill()


def _load_once() -> None:
    """Start the process that the writers are forked from; it finds what it loads by the path of its environment."""
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
    try:
        forkserver.ensure_running()
    finally:
        os.environ.pop("PYTHONPATH")
        if before is not None:
            os.environ["PYTHONPATH"] = before


def lost_and_doubled(texts: list[str], acknowledged: dict[str, set[int]]) -> tuple[list[str], list[str]]:
    """Give the acknowledged events that are not there, and the events that are there more than once."""
    there = Counter(texts)
    wanted = {f"{name}-{number}" for name, numbers in acknowledged.items() for number in numbers}
    return sorted(wanted - there.keys()), sorted(text for text, count in there.items() if count > 1)
