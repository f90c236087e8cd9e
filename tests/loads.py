"""Callers that write over HTTP without end: what they were told is written must be there, whatever dies meanwhile.

Each writes notes of its own to a case of its own pair of callers, names every note, and sends it with an idempotency
key until it hears that it is written. Callers are threads: it is the server and its workers that are killed.
"""

from __future__ import annotations

import json
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException

CONNECT_AGAIN = 0.05  # [s]


@dataclass
class Caller:
    """One writer of one case: `written` are the notes that were acknowledged, `statuses` all that it was told."""

    port: int
    token: str
    case: str
    name: str
    written: list[str] = field(default_factory=list)
    statuses: Counter = field(default_factory=Counter)
    bad: list[str] = field(default_factory=list)

    def write_until(self, stop: threading.Event) -> None:
        """Write notes, each until it is acknowledged."""
        seen, number = 1, 0
        while not stop.is_set():
            text, number = f"{self.name}-{number}", number + 1
            while not stop.is_set():
                answer = self._send(text, seen)
                if answer is None:
                    time.sleep(CONNECT_AGAIN)
                    continue
                status, seen = answer[0], answer[1] or seen
                if status == 200:
                    self.written.append(text)
                    break
                if status == 503:
                    time.sleep(CONNECT_AGAIN)

    def _send(self, text: str, seen: int) -> tuple[int, int | None] | None:
        """Send a note, and give the status and the version that was told; None where nobody answered."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=30)
        headers = {"Authorization": f"Bearer {self.token}", "If-Match": f'"{seen}"', "Idempotency-Key": text}
        body = json.dumps({"events": [{"kind": "note", "body": {"text": text}}]})
        try:
            connection.request(
                "POST", f"/v1/cases/{self.case}/events", body, {**headers, "Content-Type": "application/json"}
            )
            response = connection.getresponse()
            told = json.loads(response.read())
        except (OSError, HTTPException, ValueError):
            return None  # killed before the answer was whole: nobody knows whether it was written
        finally:
            connection.close()
        self.statuses[response.status] += 1
        if response.status == 503 and "Retry-After" not in response.headers:
            self.bad.append("503 without Retry-After")
        elif response.status not in (200, 412, 503):
            self.bad.append(f"{response.status} {told}")
        return response.status, told.get("version")


@dataclass
class Callers:
    """Several callers at once."""

    callers: list[Caller]
    stop: threading.Event = field(default_factory=threading.Event)
    threads: list[threading.Thread] = field(default_factory=list)

    def __enter__(self) -> Callers:
        """Let all write."""
        self.threads = [
            threading.Thread(target=caller.write_until, args=(self.stop,), daemon=True) for caller in self.callers
        ]
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Let all end what they are at."""
        self.stop.set()
        for thread in self.threads:
            thread.join(timeout=60)

    @property
    def written(self) -> int:
        """How many notes were acknowledged so far."""
        return sum(len(caller.written) for caller in self.callers)

    def wait_for(self, more: int, seconds: float) -> None:
        """Wait until so many more notes were acknowledged; fails after a time [s]."""
        wanted, end = self.written + more, time.monotonic() + seconds
        while self.written < wanted:
            assert time.monotonic() < end, f"only {self.written} of {wanted} were written in time"
            time.sleep(0.02)
