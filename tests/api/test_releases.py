"""Releases over HTTP: for analysts, for their own shop, at once and while others ask for advice."""

import json
import threading

import pytest

from advisor.engine import shipped_engine
from api.app import create_app
from api.settings import Settings

FILE = {
    "format": "priors/1",
    "name": "north-1",
    "verdict": "better",
    "factors": {"belt-reminder": {"belt-lamp/open": {"factor": 40.0, "low": 20, "high": 80, "from": "orders"}}},
}
ASKED = {"circuit": "belt-reminder", "findings": [{"symptom": "lamp-stays-dark"}], "depth": 1}


@pytest.fixture
def served(store):
    """A client of the shipped circuits with tokens, without a limit of requests."""
    return create_app(shipped_engine(), store, Settings(tokens=True, rate=0.0)).test_client()


@pytest.fixture
def send(served, token):
    """Send JSON as one of the roles of a shop."""
    secrets = {}

    def sent(method, path, body=None, role="analyst", shop="north"):
        if (role, shop) not in secrets:
            secrets[role, shop] = token(role=role, shop=shop, name=f"{role}-{shop}")
        headers = {"Authorization": f"Bearer {secrets[role, shop]}"}
        return served.open(path, method=method, json=body, headers=headers)

    return sent


def lamp(answer):
    """Give the priors of an answer and what they make of the lamp."""
    body = answer.get_json()
    return body["release"]["priors"], next(c["probability"] for c in body["causes"] if c["cause"] == "belt-lamp/open")


def test_a_release_is_added_looked_at_put_in_force_and_taken_back(send):
    """Each answer says which priors it used; other shops are not touched."""
    made = send("POST", "/v1/releases", FILE)
    assert made.status_code == 201 and made.get_json()["verdict"] == "better"
    id, name = made.get_json()["id"], made.get_json()["priors"]
    assert send("POST", "/v1/releases", FILE).get_json() == made.get_json()
    before = lamp(send("POST", "/v1/advice", ASKED))
    changes = send("GET", f"/v1/releases/{id}/changes").get_json()
    assert [(row["cause"], row["ratio"]) for row in changes["moved"]] == [("belt-lamp/open", 40.0)]
    now = send("POST", "/v1/releases/activate", {"release": name}).get_json()
    assert (now["priors"], now["own"], now["common"]) == (name, name, None)
    after = lamp(send("POST", "/v1/advice", ASKED))
    assert (before[0], after[0]) == ("handbook-1", name) and after[1] > 2 * before[1]
    assert lamp(send("POST", "/v1/advice", ASKED, shop="south")) == before
    listed = send("GET", "/v1/releases").get_json()
    assert [row["by"] for row in listed["releases"]] == ["analyst-north"] and listed["in_force"]["priors"] == name
    assert send("GET", f"/v1/releases/{id}").get_json()["content"] == FILE
    left = {"leaving": name}
    assert send("POST", "/v1/releases/rollback", left).get_json()["priors"] == "handbook-1"
    assert send("POST", "/v1/releases/rollback", left).status_code == 409
    assert lamp(send("POST", "/v1/advice", ASKED)) == before


def test_releases_are_for_analysts_and_for_their_own_shop(send):
    """A technician is refused; another shop's release is not there."""
    id = send("POST", "/v1/releases", FILE).get_json()["id"]
    for method, path, body in (
        ("GET", "/v1/releases", None),
        ("POST", "/v1/releases", FILE),
        ("POST", "/v1/releases/activate", {"release": id}),
        ("POST", "/v1/releases/rollback", {"leaving": "handbook-1"}),
    ):
        assert send(method, path, body, role="technician").status_code == 403
    assert send("GET", f"/v1/releases/{id}", shop="south").status_code == 404
    assert send("POST", "/v1/releases/activate", {"release": id}, shop="south").status_code == 404
    assert send("GET", "/v1/releases", shop="south").get_json()["releases"] == []


def test_a_wrong_file_is_pointed_at(send):
    """A cause that no circuit has is refused, and nothing is kept."""
    wrong = json.loads(json.dumps(FILE).replace("belt-lamp/open", "belt-lamp/opened"))
    answer = send("POST", "/v1/releases", wrong)
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/factors/belt-reminder/belt-lamp~1opened"
    assert send("GET", "/v1/releases").get_json()["releases"] == []


def test_a_release_comes_and_goes_while_others_ask(send):
    """No request fails, and the lamp is as likely as the named priors make it."""
    name = send("POST", "/v1/releases", FILE).get_json()["priors"]
    expected = {lamp(send("POST", "/v1/advice", ASKED))}
    send("POST", "/v1/releases/activate", {"release": name})
    expected.add(lamp(send("POST", "/v1/advice", ASKED)))
    stop, seen, failed = threading.Event(), [], []

    def ask():
        while not stop.is_set():
            answer = send("POST", "/v1/advice", ASKED)
            (seen.append(lamp(answer)) if answer.status_code == 200 else failed.append(answer.status_code))

    callers = [threading.Thread(target=ask) for _ in range(3)]
    for each in callers:
        each.start()
    for _ in range(10):
        send("POST", "/v1/releases/rollback", {"leaving": name})
        send("POST", "/v1/releases/activate", {"release": name})
    stop.set()
    for each in callers:
        each.join()
    assert not failed and set(seen) <= expected and len(seen) > 10
