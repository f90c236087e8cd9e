"""Servers in processes of their own, as a shop runs them, for tests and benches."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from http.client import HTTPConnection, HTTPException
from pathlib import Path

from advisor.store.store import Store
from advisor.store.tokens import Tokens, new_secret, new_token

ROOT = Path(__file__).resolve().parents[1]
PATIENCE = 90.0  # [s] until a server answers, on a busy machine
SHIPPED = "from advisor import shipped_engine; engine = shipped_engine()"
HAND_BUILT = "import fakes; engine = fakes.engine()"
SERVE = "from api.serve import serve; serve({arguments!r}, obj=engine)"


def free_port() -> int:
    """Give a port that is free now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def a_token(place: str, role: str = "manager", shop: str = "shop", name: str = "bench") -> str:
    """Make a token in a store and give its secret."""
    store, secret = Store(place), new_secret()
    store.writing(
        lambda connection: Tokens(connection).add(new_token(shop, name, role, 1.0, datetime.now(UTC)), secret)
    )
    store.close()
    return secret


@dataclass
class Served:
    """A server process on a port; `command` starts it."""

    command: list[str]
    place: str
    port: int
    said: Path
    process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    def __enter__(self) -> Served:
        """Start it and wait until it answers."""
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop it."""
        self.stop()

    def start(self, *, wait: bool = True) -> None:
        """Start it and, unless told otherwise, wait until it answers."""
        path = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
        settings = {"PYTHONPATH": path, "ADVISOR_STORE": self.place, "OPENBLAS_NUM_THREADS": "1"}
        with self.said.open("ab") as said:
            self.process = subprocess.Popen(
                self.command, stdout=said, stderr=said, env={**os.environ, **settings}, start_new_session=True
            )
        end = time.monotonic() + PATIENCE
        while wait and not self.answers():
            assert self.process.poll() is None and time.monotonic() < end, self.said.read_text()[-3000:]
            time.sleep(0.02)

    def answers(self) -> bool:
        """Tell whether it answers now."""
        try:
            return self.ask("GET", "/v1/health")[0] == 200
        except (OSError, HTTPException):
            return False

    def ask(self, method: str, path: str, body: object = None, **headers: str) -> tuple[int, Mapping[str, str], bytes]:
        """Send one request over a connection of its own: status, headers, body."""
        connection = HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            sent = None if body is None else json.dumps(body)
            told = {**({"Content-Type": "application/json"} if sent else {}), **headers}
            connection.request(method, path, sent, told)
            response = connection.getresponse()
            return response.status, dict(response.getheaders()), response.read()
        finally:
            connection.close()

    def stop(self) -> int:
        """Ask it to stop, and give its exit code."""
        assert self.process is not None
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        return self.process.wait(timeout=60)

    def kill(self) -> None:
        """Kill it and its workers without warning."""
        assert self.process is not None
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


def waitress(place: str, folder: Path, *arguments: str, engine: str = HAND_BUILT) -> Served:
    """Give the default server over an engine, not started."""
    port = free_port()
    code = f"{engine}; {SERVE.format(arguments=['--port', str(port), *arguments])}"
    return Served([sys.executable, "-c", code], place, port, folder / f"server-{port}.log")


def gunicorn(place: str, folder: Path, workers: int = 2, app: str = "api.wsgi:app(rate=0)") -> Served:
    """Give the server of several processes, not started."""
    port = free_port()
    options = ["-c", "python:api.site", "--workers", str(workers), "--bind", f"127.0.0.1:{port}"]
    return Served([sys.executable, "-m", "gunicorn", *options, app], place, port, folder / f"server-{port}.log")
