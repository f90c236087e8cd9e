"""A network with roles on the page and over HTTP, as any other model."""

import examples
import pytest
from forms import opened, press

from advisor.store.store import Store
from api.app import create_app


@pytest.fixture
def client(tmp_path):
    """A client over the example that comes along."""
    cases = Store(str(tmp_path / "cases.sqlite"))
    yield create_app(examples.engine(), cases).test_client()
    cases.close()


def test_the_page(client):
    """The page ranks causes, says what to test next and takes its result."""
    page = opened(client, "Nothing is printed", "win95pts")
    assert "Nothing is printed" in page.text
    assert "Printer buffer: full or corrupt" in page.text
    assert "Test next" in page.text
    answers = [value for name, value, _ in page.form("Not sure")[0].buttons if name == "outcome"]
    assert "Take back" in press(client, page, "Good").text
    assert answers


def test_over_http(client):
    """A request is answered with the same keys as any circuit's, its causes by the network's own names for parts."""
    request = {
        "circuit": "win95pts",
        "findings": [{"symptom": "no-output"}, {"test": "status-paper", "outcome": "paper"}],
        "depth": 1,
    }
    answer = client.post("/v1/advice", json=request).get_json()
    assert (answer["causes"][0]["part"], answer["causes"][0]["mode"]) == ("paper", "out")
    assert answer["causes"][0]["low"] == answer["causes"][0]["probability"] == answer["causes"][0]["high"]
    assert max(answer["repairs"], key=lambda row: row["probability"])["repair"] == "repair-paper"


def test_unknown_outcomes(client):
    """An outcome that the network does not have is refused with its pointer."""
    request = {
        "circuit": "win95pts",
        "findings": [{"symptom": "no-output"}, {"test": "icon", "outcome": "blue"}],
        "depth": 1,
    }
    answer = client.post("/v1/advice", json=request)
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/findings/1/outcome"
