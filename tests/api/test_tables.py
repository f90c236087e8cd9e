"""A model of tables over HTTP and as pages, on the shipped engine."""

from __future__ import annotations

import re

import pytest
from forms import get, opened, press

from advisor.engine import shipped_engine
from advisor.store.store import Store
from api.app import create_app


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    """A client of the shipped models."""
    store = Store(str(tmp_path_factory.mktemp("tables") / "cases.sqlite"))
    yield create_app(shipped_engine(), store).test_client()
    store.close()


def advice(client, *findings):
    """The answer to some findings."""
    response = client.post("/v1/advice", json={"circuit": "engine-runs-hot", "findings": list(findings)})
    assert response.status_code == 200, response.get_data(as_text=True)
    return response.get_json()


def test_it_is_listed_and_described(client):
    """It stands among the circuits, with symptoms, tests, parts and no connector."""
    assert "engine-runs-hot" in [row["id"] for row in client.get("/v1/circuits").get_json()["circuits"]]
    detail = client.get("/v1/circuits/engine-runs-hot").get_json()
    assert detail["connectors"] == []
    thermostat = next(part for part in detail["parts"] if part["id"] == "thermostat")
    assert thermostat["modes"] == ["stuck-shut", "opens-late"]
    level = next(test for test in detail["tests"] if test["id"] == "level")
    assert [outcome["id"] for outcome in level["outcomes"]] == ["between-marks", "low", "empty"]


def test_advice_narrows_down(client):
    """Hot in traffic, level good, the fan stands and stands bridged, no voltage at its plug: its feed.

    As a technician goes about it: common practice, no source.
    """
    told = [{"symptom": "hot-in-traffic"}]
    outcomes = {"level": "between-marks", "fan": "stands", "fan-bridged": "stands", "fan-supply": "dark"}
    told += [{"test": test, "outcome": outcome} for test, outcome in outcomes.items()]
    answer = advice(client, *told)
    assert answer["causes"][0]["cause"] == "fan-feed/interrupted"
    assert answer["causes"][0]["probability"] > 0.9
    assert answer["next"] == {**answer["next"], "kind": "repair", "id": "repair-fan-feed"}
    assert answer["evidence"]["supply_volts"] is None


def test_a_cause_is_said_in_words(client):
    """A mode that says what it is stands in the cause's title."""
    titles = {cause["cause"]: cause["title"] for cause in advice(client)["causes"]}
    assert titles["thermostat/stuck-shut"] == "thermostat: stays shut"
    assert titles["belt/slips"] == "drive belt: slips"


def test_hot_and_moving_things_are_told(client):
    """Tests on a hot or running engine carry their dangers, which stand before the maker's note."""
    tests = {test["test"]: [caution["id"] for caution in test["cautions"]] for test in advice(client)["tests"]}
    assert {"hot-coolant", "moving-fan", "exhaust-gas"} <= set(tests["fan"])
    assert "hot-coolant" in tests["cap-pressure"]
    assert all(ids[-1] == "maker-procedure" for ids in tests.values())


def test_a_reading_is_refused_with_the_outcomes(client):
    """A number for a look is answered with the outcomes that there are."""
    finding = {"test": "level", "value": 3.0, "unit": "V"}
    response = client.post("/v1/advice", json={"circuit": "engine-runs-hot", "findings": [finding]})
    assert response.status_code == 422
    assert "between-marks, low, empty" in response.get_data(as_text=True)


def test_pages_show_it(client):
    """Complaints and the case in its steps are pages without a trace of volts; what is good stands lowest."""
    page = opened(client, "climbs in traffic", "engine-runs-hot")
    step = get(client, f"{page.form('Keep these')[0].action.rpartition('/')[0]}?pick=fan")
    for found in (page, step, press(client, step, "Turns slowly")):
        assert "runs hot" in found.text
        assert "Reading" not in found.text
    labels = [re.sub(r"\s+", " ", text).strip() for _, value, text in step.form("Turns slowly")[0].buttons if value]
    assert labels[:3] == [
        "Bad Never turns though the top hose is hot",
        "Bad Turns slowly",
        "Good Cuts in and pulls a strong draught",
    ]
