"""What is logged and counted: enough to find a request again, and nothing that anybody has typed."""

import io
import json
import logging
import re

import fakes
import pytest
from case_requests import COMPLAINT, add
from prometheus_client.parser import text_string_to_metric_families

from advisor.errors import StoreError
from api.app import create_app
from api.logs import route_libraries
from api.settings import Settings


@pytest.fixture
def log():
    """Give the file that is logged to."""
    return io.StringIO()


@pytest.fixture
def logged(store, log):
    """Give a client of an application with tokens and a log."""
    return create_app(fakes.engine(), store, Settings(tokens=True, log=log)).test_client()


def lines(log):
    """Give what was logged."""
    return [json.loads(line) for line in log.getvalue().splitlines()]


def test_a_line_for_each_request(logged, log, bearer):
    """Method, address as the code writes it, status, time, id and shop; the id is in the answer too."""
    headers = bearer()
    response = logged.get("/v1/cases/secret-id?depth=secret", headers=headers)
    (line,) = lines(log)
    assert set(line) == {"at", "event", "level", "method", "route", "status", "ms", "request", "shop"}
    assert (line["method"], line["route"], line["status"]) == ("GET", "/v1/cases/<id>", 404)
    assert (line["shop"], line["request"]) == ("north", response.headers["X-Request-ID"])
    assert line["ms"] > 0.0


@pytest.mark.parametrize(
    ("sent", "is_kept"), [("abc-123.X_y", True), ("a b", False), ("x" * 65, False), ("", False), ('a"b', False)]
)
def test_a_sane_id_is_kept(client, sent, is_kept):
    """A caller's own id goes through where it is short and plain; otherwise one is made, for errors too."""
    for path in ("/v1/health", "/v1/nope", "/static/page.css"):
        with client.get(path, headers={"X-Request-ID": sent}) as response:
            given = response.headers["X-Request-ID"]
        assert (given == sent) == is_kept
        assert re.fullmatch(r"[A-Za-z0-9._-]{1,64}", given)


SECRETS = (
    "Unmistakable words",
    "PLATE-77",
    "Bearer",
    "Unmistakable note",
    "secret-query",
    "secret-body",
    "secret-path",
)


def test_nothing_typed_is_logged(logged, log, token, store, monkeypatch):
    """Through openings, notes, errors of all kinds and a defect: no token, word, body, query or path in any line."""
    secret = token("manager")
    headers = {"Authorization": f"Bearer {secret}"}
    told = {**COMPLAINT, "words": SECRETS[0], "identity": SECRETS[1]}
    address = logged.post("/v1/cases", json=told, headers=headers).headers["Location"]
    add(logged, address, {"kind": "note", "body": {"text": SECRETS[3]}}, **headers)
    logged.get("/v1/cases?reference=secret-query&nope=secret-query", headers=headers)
    logged.get("/secret-path", headers=headers)
    logged.post("/sign-in", data={"token": secret, "next": "/?secret-query"})
    logged.post("/v1/advice", data=b'{"secret-body"', content_type="application/json", headers=headers)
    monkeypatch.setattr("advisor.contract.service.present", lambda *_: 1 / int(f"0{SECRETS[5]}"))
    assert logged.post("/v1/advice", json=fakes.GOOD_REQUEST, headers=headers).status_code == 500
    monkeypatch.setattr("advisor.store.journals.Journals.page", lambda *_: broken(f"{SECRETS[0]}"))
    assert logged.get("/v1/cases", headers=headers).status_code == 500
    text = log.getvalue()
    assert len(lines(log)) >= 9
    assert [word for word in (*SECRETS, secret, secret[4:]) if word in text] == []


def broken(text):
    """Fail as a database may, with what was written in the error's text."""
    raise StoreError("cannot be used") from ValueError(text)


def test_a_defect_can_be_found(logged, log, bearer, monkeypatch):
    """The kinds of an error and where it arose stand beside the request's id."""
    monkeypatch.setattr("advisor.contract.service.present", lambda *_: {}["x"])
    response = logged.post("/v1/advice", json=fakes.GOOD_REQUEST, headers=bearer())
    failed, request = lines(log)
    assert (failed["event"], failed["kinds"], request["status"]) == ("failed", ["KeyError"], 500)
    assert failed["request"] == request["request"] == response.headers["X-Request-ID"]
    assert any(frame.startswith("service.py:") for frame in failed["frames"])


def test_what_a_database_was_sent_is_in_no_error(store):
    """The text of a failed statement has no values in it, which may be a customer's words."""
    from advisor.store.journals import Journals

    def work(connection):
        """Write what cannot be written."""
        Journals(connection)._connection.exec_driver_sql("SELECT nope FROM cases WHERE id = 'x'")

    with pytest.raises(StoreError) as failed:
        store.reading(work)
    assert store._engine.hide_parameters
    assert "'x'" not in str(failed.value.__cause__.params)


def test_libraries_log_in_the_same_form(log):
    """A warning of the server's library is a line of JSON."""
    root = logging.getLogger()
    before = root.handlers[:], root.level
    try:
        route_libraries(log)
        logging.getLogger("waitress.queue").warning("Task queue depth is %d", 3)
    finally:
        root.handlers[:], root.level = before[0], before[1]
    (line,) = lines(log)
    assert (line["event"], line["level"], line["logger"]) == ("Task queue depth is 3", "warning", "waitress.queue")


def test_requests_are_counted_by_address_and_status(client):
    """Each request counts once, under the address as the code writes it; advice is timed wherever it is given."""
    for path in ("/v1/circuits/belt-reminder", "/v1/circuits/nope", "/v1/circuits/other", "/nope", "/also-nope"):
        client.get(path)
    for number in range(3):
        client.open("/v1/advice", method=f"ODD{number}")
    client.post("/v1/advice", json=fakes.GOOD_REQUEST)
    client.get("/circuit/belt-reminder/case?symptom=lamp-stays-dark")
    response = client.get("/metrics")
    assert response.mimetype == "text/plain"
    families = {family.name: family for family in text_string_to_metric_families(response.get_data(as_text=True))}
    counted = {
        (row.labels["method"], row.labels["route"], row.labels["status"]): row.value
        for row in families["advisor_requests"].samples
        if row.name.endswith("_total")
    }
    assert counted["GET", "/v1/circuits/<id>", "404"] == 2
    assert counted["GET", "/v1/circuits/<id>", "200"] == 1
    assert counted["GET", "-", "404"] == 2
    assert counted["other", "-", "405"] == 3
    advised = {row.name: row.value for row in families["advisor_advice_seconds"].samples if "bucket" not in row.name}
    assert advised["advisor_advice_seconds_count"] == 2
    assert advised["advisor_advice_seconds_sum"] > 0.0
