"""A model of tables over HTTP and as pages, on the shipped engine."""

from __future__ import annotations

import html
import re

import pytest

from advisor.engine import shipped_engine
from api.app import create_app

CASE = "/circuit/engine-runs-hot/case?symptom=hot-in-traffic"


@pytest.fixture(scope="module")
def client():
    """A client of the shipped models."""
    return create_app(shipped_engine()).test_client()


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


@pytest.mark.parametrize("path", ["/", "/circuit/engine-runs-hot", CASE, f"{CASE}&t=level~low", f"{CASE}&pick=fan"])
def test_pages_show_it(client, path):
    """Home, symptoms and the case in its steps are pages without a trace of volts."""
    text = client.get(path).get_data(as_text=True)
    assert "runs hot" in text
    assert "What does the meter show?" not in text


def test_the_good_answer_stands_first(client):
    """What a sound van shows is marked good, and no other."""
    text = html.unescape(client.get(f"{CASE}&pick=fan").get_data(as_text=True))
    marks = re.findall(r'class="mark">(Good|Bad)</span>\s*<span class="label">([^<]+)', text)
    assert marks == [
        ("Good", "Cuts in and pulls a strong draught"),
        ("Bad", "Turns slowly"),
        ("Bad", "Never turns though the top hose is hot"),
    ]
