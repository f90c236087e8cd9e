"""Requests a second, and how long one takes: advice and events beside a bare Flask route, on one server in one run.

    python -m bench.bench_load [--seconds S] [--callers N]      (from tests)

The default server on the shipped circuits, with tokens and SQLite; callers are threads with connections that stay.
"""

from __future__ import annotations

import argparse
import itertools
import json
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from http.client import HTTPConnection
from pathlib import Path

import numpy as np
import servers

import advisor

CODE = """
import socket, sys
from flask import Flask, jsonify, request
from werkzeug.middleware.dispatcher import DispatcherMiddleware
from advisor import shipped_engine
from api.app import create_app
from api.running import run
from api.settings import Settings
bare = Flask("bare")
@bare.post("/json")
def echo():
    return jsonify(request.get_json())
engine = shipped_engine()
engine.load("belt-reminder")
app = create_app(engine, settings=Settings(tokens=True, rate=0.0))
run(DispatcherMiddleware(app, {"/bare": bare}), socket.create_server(("127.0.0.1", int(sys.argv[1]))))
"""
CIRCUIT, SYMPTOM = "belt-reminder", "lamp-stays-dark"


@dataclass(frozen=True)
class Row:
    """What one kind of request came to: how many a second [1/s], and the times of one [ms]."""

    what: str
    rate: float
    median: float
    slowest: float

    def __str__(self) -> str:
        """Give the figures on a line."""
        return f"{self.what}: {self.rate:.0f} rps, p50 {self.median:.1f} ms, p99 {self.slowest:.1f} ms"


def bodies(depth: int) -> list[dict]:
    """Give requests for advice that differ: each outcome of each test of a circuit beside its complaint."""
    tests = advisor.load(CIRCUIT).tests.values()
    return [
        {
            "circuit": CIRCUIT,
            "depth": depth,
            "findings": [{"symptom": SYMPTOM}, {"test": test.id, "outcome": test.outcomes[0].id}],
        }
        for test in itertools.islice(tests, 20)
    ]


def load(what: str, port: int, token: str, seconds: float, sends: list[Iterator[tuple[str, dict, dict]]]) -> Row:
    """Let callers send as quickly as they are answered, each its own requests; refusals of content count too."""
    times: list[list[float]] = [[] for _ in sends]
    end = time.monotonic() + seconds
    threads = [
        threading.Thread(target=_call, args=(port, token, end, requests, took))
        for requests, took in zip(sends, times, strict=True)
    ]
    began = time.monotonic()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    took = [value for row in times for value in row]
    return Row(what, len(took) / (time.monotonic() - began), float(np.median(took)), float(np.percentile(took, 99)))


def _call(port: int, token: str, end: float, requests: Iterator[tuple[str, dict, dict]], took: list[float]) -> None:
    connection = HTTPConnection("127.0.0.1", port, timeout=60)
    for path, body, headers in requests:
        began = time.perf_counter()
        told = {"Content-Type": "application/json", "Authorization": f"Bearer {token}", **headers}
        connection.request("POST", path, json.dumps(body), told)
        response = connection.getresponse()
        text = response.read()
        took.append(1000 * (time.perf_counter() - began))
        assert response.status in (200, 422), text  # an outcome may be impossible beside the complaint
        if time.monotonic() > end:
            break
    connection.close()


def events(served: servers.Served, token: str) -> Iterator[tuple[str, dict, dict]]:
    """Give writes to a case of one's own, and to the next one once it is full."""
    bearer = {"Authorization": f"Bearer {token}"}
    while True:
        case = json.loads(served.ask("POST", "/v1/cases", {"circuit": CIRCUIT, "symptom": SYMPTOM}, **bearer)[2])["id"]
        for version in range(1, 200):
            note = {"events": [{"kind": "note", "body": {"text": f"note {version}"}}]}
            yield f"/v1/cases/{case}/events", note, {"If-Match": f'"{version}"'}


def in_process(depth: int, count: int) -> float:
    """Give the median time of the engine alone [ms]."""
    model, took = advisor.load(CIRCUIT), []
    asked = bodies(depth)
    for body in itertools.islice(itertools.cycle(asked), count):
        began = time.perf_counter()
        try:
            advisor.advise(model, body)
        except advisor.ImpossibleFindingsError:
            continue
        took.append(1000 * (time.perf_counter() - began))
    return statistics.median(took)


def rows(folder: Path, seconds: float, callers: int) -> list[Row]:
    """Measure each kind of request in turn on one server, the bare route first and last."""
    place = str(folder / "cases.sqlite")
    token, port = servers.a_token(place), servers.free_port()
    command = [servers.sys.executable, "-c", CODE, str(port)]
    with servers.Served(command, place, port, folder / "server.log") as served:

        def each(what: str, make: Callable[[], Iterator[tuple[str, dict, dict]]]) -> Row:
            """Measure one kind."""
            return load(what, port, token, seconds, [make() for _ in range(callers)])

        def advice(depth: int) -> Iterator[tuple[str, dict, dict]]:
            """Give requests for advice without end."""
            return (("/v1/advice", body, {}) for body in itertools.cycle(bodies(depth)))

        def bare() -> Iterator[tuple[str, dict, dict]]:
            """Give requests that are sent back as they are."""
            return (("/bare/json", body, {}) for body in itertools.cycle(bodies(1)))

        return [
            each("bare Flask route", bare),
            each("advice, one step", lambda: advice(1)),
            each("advice, two steps", lambda: advice(2)),
            each("append an event", lambda: events(served, token)),
            each("bare Flask route again", bare),
        ]


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=15.0)
    parser.add_argument("--callers", type=int, default=4)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = rows(Path(folder), options.seconds, options.callers)
    bare = (found[0].rate + found[-1].rate) / 2
    for row in found:
        print(f"{row}; {row.rate / bare:.3f} of the bare route")
    for depth in (1, 2):
        print(f"the engine alone, {depth} ahead: {in_process(depth, 60):.1f} ms")


if __name__ == "__main__":
    main()
