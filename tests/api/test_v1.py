"""The JSON addresses: every status, and answers equal to the contract's own."""

import json

import fakes
import pytest

from advisor.contract import service
from api.app import create_app

POST = {"path": "/v1/advice", "method": "POST"}


def problem(response, status: int, kind: str) -> dict[str, object]:
    """Check the one shape of an error and give it."""
    assert response.status_code == status
    assert response.mimetype == "application/problem+json"
    body = response.get_json()
    assert set(body) == {"type", "title", "status", "detail", "errors"}
    assert (body["type"], body["status"]) == (f"/problems/{kind}", status)
    return body


def test_an_answer_equals_the_contracts_own(client):
    """HTTP gives the very text that the contract gives."""
    response = client.post("/v1/advice", json=fakes.GOOD_REQUEST)
    direct = service.answer(json.dumps(fakes.GOOD_REQUEST).encode(), fakes.engine())
    assert (response.status_code, response.get_data(as_text=True)) == (200, direct.model_dump_json())


def test_lists(client):
    """The list names circuits; one circuit tells its parts."""
    assert [row["id"] for row in client.get("/v1/circuits").get_json()["circuits"]] == ["belt-reminder", "other-lamp"]
    assert client.get("/v1/circuits/other-lamp").get_json()["id"] == "other-lamp"


def test_400_not_json(client):
    """A body that is no JSON is 400."""
    problem(client.post("/v1/advice", data=b"{", content_type="application/json"), 400, "not-json")


@pytest.mark.parametrize(
    "path", ["/v1/circuits/nope", "/v1/circuits/..%2Fbelt-reminder", "/v1/nope", "/v1/", "/v1/circuits/"]
)
def test_404(client, path):
    """An unknown id in the path, or an unknown address, is 404."""
    problem(client.get(path), 404, "not-found")


def test_405_lists_the_methods(client):
    """A wrong method is 405 with the methods that are allowed."""
    response = client.get("/v1/advice")
    problem(response, 405, "method-not-allowed")
    assert "POST" in response.headers["Allow"]


def test_413(client):
    """A body above one megabyte is 413, with and without its length announced."""
    problem(client.post("/v1/advice", data=b" " * 1_000_001, content_type="application/json"), 413, "too-large")


@pytest.mark.parametrize("kind", [None, "text/plain", "application/x-www-form-urlencoded"])
def test_415(client, kind):
    """A body that is not announced as JSON is 415, so that no foreign form can send one."""
    problem(client.post("/v1/advice", data=b"{}", content_type=kind), 415, "not-json-type")


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8321", "127.0.0.1.evil.example", "", "[::1", "127.0.0.1@evil.example:1"]
)
def test_421_foreign_host(client, host):
    """A name of another site that points at this machine is refused."""
    problem(client.get("/v1/circuits", headers={"Host": host}), 421, "foreign-host")


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8321", "localhost:1", "[::1]:8321", "LOCALHOST"])
def test_loopback_hosts_are_served(client, host):
    """Every name of this machine is served."""
    assert client.get("/v1/circuits", headers={"Host": host}).status_code == 200


def test_422_points(client):
    """Wrong content is 422 with a pointer for each problem."""
    body = problem(
        client.post("/v1/advice", json={"circuit": "belt-reminder", "vehicle": {"years": "9"}}), 422, "invalid-request"
    )
    assert body["errors"] == [{"pointer": "#/vehicle/years", "detail": "expected a number, not '9'"}]


def test_422_impossible(client):
    """Findings that no fault gives are 422 of their own kind."""
    finding = {"test": "volts.C12-1.reminding", "reading": {"value": 999, "unit": "V"}}
    body = problem(
        client.post("/v1/advice", json={"circuit": "belt-reminder", "findings": [finding]}), 422, "impossible-findings"
    )
    assert body["errors"][0]["pointer"] == "#/findings/0"


def test_500_tells_nothing_of_the_inside():
    """An unforeseen error is 500 without its text; tests/api/test_logs.py looks into the log."""

    def broken(*_: object, **__: object):
        raise RuntimeError("secret path /srv/models")

    client = create_app(fakes.engine(decide=broken)).test_client()
    body = problem(client.post("/v1/advice", json={"circuit": "belt-reminder"}), 500, "internal-error")
    assert "secret" not in json.dumps(body)
