"""Circuits are loaded when they are asked for, and the rest while nobody waits for an answer."""

import threading
import time
from dataclasses import replace

import fakes
import pytest
import servers

from advisor.errors import KnowledgeError, Problem
from advisor.store.store import Store
from api.app import create_app
from api.behind import warm, warm_behind
from api.settings import Settings

BROKEN = """
import fakes
from dataclasses import replace
from advisor.errors import KnowledgeError, Problem
good = fakes.engine()
def load(name):
    if name != "belt-reminder":
        raise KnowledgeError([Problem("models/broken.yaml", 3, 5, "unknown key 'amps'")])
    return good.load(name)
engine = replace(good, load=load)
"""


class Loaded:
    """Remembers what was loaded."""

    def __init__(self):
        self.names, self.engine = [], fakes.engine()

    def __call__(self, name):
        """Load it."""
        self.names.append(name)
        return self.engine.load(name)


@pytest.fixture
def waiting(tmp_path, no_cases):
    """Give an application whose advice waits until it is let through, its circuits, what is loaded, and the gate."""
    loaded, gate, begun = Loaded(), threading.Event(), threading.Event()

    def decide(*args, **options):
        """Wait, then decide."""
        begun.set()
        assert gate.wait(30.0)
        return loaded.engine.decide(*args, **options)

    engine = replace(loaded.engine, decide=decide, load=loaded)
    cases = Store(str(tmp_path / "cases.sqlite"))
    app = create_app(engine, cases, Settings(rate=0.0))
    yield app, engine, loaded.names, begun, gate
    gate.set()
    cases.close()


def asked(app):
    """Ask for advice in a thread, and give the thread and the status."""
    statuses = []
    thread = threading.Thread(
        target=lambda: statuses.append(app.test_client().post("/v1/advice", json=fakes.GOOD_REQUEST).status_code)
    )
    thread.start()
    return thread, statuses


def test_nothing_is_loaded_while_somebody_waits(waiting):
    """The circuit that is asked for is loaded for its answer, the others once it is out."""
    app, engine, names, begun, gate = waiting
    warming = warm_behind(app, engine, quiet=0.1, patience=60.0)
    thread, statuses = asked(app)
    assert begun.wait(30.0)
    time.sleep(0.4)
    assert set(names) == {"belt-reminder"}
    gate.set()
    thread.join()
    warming.join(timeout=30.0)
    assert statuses == [200]
    assert set(names) == set(engine.circuits()) > {"belt-reminder"}


def test_a_busy_server_loads_too(waiting):
    """Where it is never quiet, patience ends and circuits are loaded beside the answers."""
    app, engine, names, begun, _ = waiting
    warming = warm_behind(app, engine, quiet=60.0, patience=0.05)
    asked(app)
    assert begun.wait(30.0)
    warming.join(timeout=30.0)
    assert set(names) == set(engine.circuits())


def test_a_broken_circuit_is_told_and_stops_no_other(capsys):
    """Whatever is wrong with one, all are tried, and what is wrong is told with its place."""
    good, tried = fakes.engine(), []

    def load(name):
        """Fail for the first."""
        tried.append(name)
        if len(tried) == 1:
            raise KnowledgeError([Problem("broken.yaml", 3, 5, "unknown key 'amps'")])
        return good.load(name)

    warm(replace(good, load=load))
    assert tried == list(good.circuits())
    told = capsys.readouterr().err
    assert f"circuit {tried[0]} cannot be served" in told
    assert "broken.yaml:3:5" in told


def test_a_server_with_a_broken_circuit(tmp_path):
    """It answers for the good one, says in its log which is broken and where, and names it in the list."""
    with servers.waitress(str(tmp_path / "cases.sqlite"), tmp_path, engine=f"exec({BROKEN!r})") as served:
        assert served.ask("POST", "/v1/advice", fakes.GOOD_REQUEST)[0] == 200
        end = time.monotonic() + 30.0
        while "cannot be served" not in served.said.read_text() and time.monotonic() < end:
            time.sleep(0.05)
        assert "models/broken.yaml:3:5" in served.said.read_text()
        assert b'"broken":["' in served.ask("GET", "/v1/circuits")[2]
        assert served.ask("GET", "/v1/ready")[0] == 200
