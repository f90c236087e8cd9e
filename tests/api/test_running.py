"""Servers as a shop runs them: they answer beside slow clients, and stop once they have answered."""

import json
import socket
import threading
import time

import fakes
import pytest
import servers

from advisor import load, shipped_engine

SLOW = """
import time, fakes
from dataclasses import replace
plain = fakes.engine()
def decide(*args, **kwargs):
    time.sleep(1.0)
    return plain.decide(*args, **kwargs)
engine = replace(plain, decide=decide)
"""


@pytest.fixture
def place(tmp_path):
    """Give a place for cases."""
    return str(tmp_path / "cases.sqlite")


def in_background(work):
    """Run work in a thread, and give what collects its result."""
    results = []
    thread = threading.Thread(target=lambda: results.append(work()), daemon=True)
    thread.start()
    return thread, results


def test_a_stop_finishes_what_was_asked(place, tmp_path):
    """Told to stop in the middle of an answer: the answer comes whole, later callers are refused, the exit is 0."""
    served = servers.waitress(place, tmp_path, engine=f"exec({SLOW!r})")
    served.start()
    asked = [in_background(lambda: served.ask("POST", "/v1/advice", fakes.GOOD_REQUEST)) for _ in range(3)]
    time.sleep(0.4)
    assert served.stop() == 0
    for thread, results in asked:
        thread.join(timeout=30)
        status, _, body = results[0]
        assert (status, json.loads(body)["circuit"]) == (200, "belt-reminder")
    with pytest.raises(OSError):
        socket.create_connection(("127.0.0.1", served.port), timeout=1)


def test_slow_clients_block_nobody(place, tmp_path):
    """Sixty clients that send half a request, or read no answer, and the next caller is answered as before."""
    with servers.waitress(place, tmp_path, "--rate", "0") as served:
        slow = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(60)]
        try:
            for number, client in enumerate(slow):
                whole = b"GET /v1/openapi.json HTTP/1.1\r\nHost: localhost\r\n\r\n" * 20
                half = b"POST /v1/advice HTTP/1.1\r\nHost: localhost\r\nContent-Length: 500\r\n\r\n{"
                client.sendall(whole if number % 2 else half)
            time.sleep(0.5)
            began = time.monotonic()
            for _ in range(5):
                assert served.ask("POST", "/v1/advice", fakes.GOOD_REQUEST)[0] == 200
            assert time.monotonic() - began < 30.0  # a blocked server would not answer for its timeout of minutes
        finally:
            for client in slow:
                client.close()


def test_the_command_with_tokens(place, tmp_path):
    """Asked for tokens the command lets in who has one, for the names that it was given, and logs in JSON."""
    secret = servers.a_token(place)
    with servers.waitress(place, tmp_path, "--tokens", "--name", "advisor.shop.example") as served:
        host = {"Host": "advisor.shop.example"}
        assert served.ask("GET", "/v1/circuits", **host)[0] == 401
        assert served.ask("GET", "/v1/circuits", Authorization=f"Bearer {secret}", **host)[0] == 200
        assert served.ask("GET", "/v1/circuits", Host="other.example")[0] == 421
    lines = [json.loads(line) for line in served.said.read_text().splitlines() if line.startswith("{")]
    assert [line["status"] for line in lines if line.get("route") == "/v1/circuits"] == [401, 200, 421]
    assert secret not in served.said.read_text()


def test_several_processes(place, tmp_path):
    """The server of a bigger site asks for tokens, counts all workers together, makes no control socket, and stops."""
    for name in shipped_engine().circuits():  # or two workers compile them side by side
        load(name)
    secret = servers.a_token(place)
    bearer = {"Authorization": f"Bearer {secret}"}
    with servers.gunicorn(place, tmp_path) as served:
        assert served.ask("GET", "/v1/circuits")[0] == 401
        for _ in range(6):
            assert served.ask("GET", "/v1/circuits", **bearer)[0] == 200
        figures = served.ask("GET", "/metrics", **bearer)[2].decode()
        assert 'advisor_requests_total{method="GET",route="/v1/circuits",status="200"} 6.0' in figures
        assert served.stop() == 0
    assert "ontrol" not in served.said.read_text()
