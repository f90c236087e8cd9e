"""Cases over HTTP on both databases: every status, headers, repeated requests, pages of a list."""

import fakes
import pytest
from case_requests import CLOSED, COMPLAINT, LIT, add, opened, problem
from pointers import names_something

from advisor.errors import StoreAwayError, StoreFullError
from advisor.store.schema import newest
from advisor.store.store import Store
from api.app import create_app


def test_a_case_from_complaint_to_closing(bench):
    """Opened, found, advised, closed: each write gives the tag that the next one needs."""
    response = bench.post("/v1/cases", json=COMPLAINT)
    assert (response.status_code, response.headers["ETag"]) == (201, '"1"')
    address = response.headers["Location"]
    assert address == f"/v1/cases/{response.get_json()['id']}"
    assert bench.get(address).headers["ETag"] == '"1"'
    found = add(bench, address, LIT, seen=response.headers["ETag"])
    assert (found.status_code, found.headers["ETag"]) == (200, '"2"')
    advice = bench.get(f"{address}/advice?depth=1").get_json()
    plain = {"circuit": "belt-reminder", "findings": [{"symptom": "lamp-stays-dark"}, LIT["body"]], "depth": 1}
    assert (advice["version"], advice["release_changed"]) == (2, False)
    assert advice["advice"] == bench.post("/v1/advice", json=plain).get_json()
    closed = add(bench, address, CLOSED, seen=found.headers["ETag"]).get_json()
    assert (closed["state"], closed["events"][-1]["kind"]) == ("closed", "closed")
    assert closed == bench.get(address).get_json()


def test_404(bench):
    """No case, no address under it."""
    for path in ("nope", "nope/advice", "", "%00", "%F0%9F%9A%90", "%FF", "x" * 1000):
        problem(bench.get(f"/v1/cases/{path}"), 404, "not-found")
    for path in (f"{opened(bench)}/nope", f"{opened(bench)}/"):
        problem(bench.get(path), 404, "not-found")
    problem(add(bench, "/v1/cases/nope", LIT), 404, "not-found")


def test_409_while_a_jumper_is_on(bench):
    """What the case does not take now is pointed at, and says what comes first."""
    address = opened(bench)
    on = {"kind": "put-on", "body": {"id": "j1", "what": "jumper"}}
    body = problem(add(bench, address, on, CLOSED), 409, "case-state")
    assert body["errors"] == [{"pointer": "#/events/1", "detail": "the case cannot close: not put back: j1"}]


def test_412_tells_what_changed(bench):
    """A stale tag is answered with the version now and the events since."""
    address = opened(bench)
    add(bench, address, LIT)
    body = problem(add(bench, address, CLOSED), 412, "case-changed", "version", "changed")
    assert (body["version"], [event["kind"] for event in body["changed"]]) == (2, ["finding"])
    assert body["changed"][0]["body"] == {"kind": "outcome", **LIT["body"]}
    assert add(bench, address, CLOSED, seen=f'"{body["version"]}"').status_code == 200


@pytest.mark.parametrize("tag", ['""', 'W/"1"', '"nope"', '"0"', '"01"', '"99999999999999999999"'])
def test_412_for_a_tag_that_is_no_version(bench, tag):
    """A weak or foreign tag matches nothing, and the whole journal is what has changed."""
    body = problem(add(bench, opened(bench), LIT, seen=tag), 412, "case-changed", "version", "changed")
    assert len(body["changed"]) == 1


def test_one_of_several_tags_is_enough(bench):
    """If-Match may list several versions."""
    assert add(bench, opened(bench), LIT, seen='"7", "1"').status_code == 200


@pytest.mark.parametrize("tag", [None, "*", ""])
def test_428_without_a_version(bench, tag):
    """A write that has seen nothing, or claims to have seen anything, is told how to say it."""
    assert "If-Match" in problem(add(bench, opened(bench), LIT, seen=tag), 428, "version-missing")["detail"]


def test_a_repeated_request_is_done_once(bench):
    """The same key and body give the same answer; another body is a conflict; another case is another matter."""
    first = bench.post("/v1/cases", json=COMPLAINT, headers={"Idempotency-Key": "k"})
    again = bench.post("/v1/cases", json=COMPLAINT, headers={"Idempotency-Key": "k"})
    assert (again.status_code, again.get_json()) == (201, first.get_json())
    other = bench.post("/v1/cases", json={**COMPLAINT, "words": "other"}, headers={"Idempotency-Key": "k"})
    problem(other, 422, "key-reused")
    address, key = first.headers["Location"], {"Idempotency-Key": "k"}
    once = add(bench, address, LIT, **key)
    add(bench, address, {"kind": "note", "body": {"text": "x"}}, seen='"2"')
    assert add(bench, address, LIT, **key).get_json() == once.get_json()
    assert bench.get(address).get_json()["version"] == 3
    assert add(bench, opened(bench), LIT, **key).status_code == 200


@pytest.mark.parametrize("key", ["", "a b", "x" * 201])
def test_400_for_a_key_that_is_none(bench, key):
    """A key is visible ASCII of a length that the store takes."""
    response = bench.post("/v1/cases", json=COMPLAINT, headers={"Idempotency-Key": key})
    assert "Idempotency-Key" in problem(response, 400, "bad-request")["detail"]


def test_400_413_415_as_everywhere(bench):
    """Bodies are taken as on the other addresses."""
    address = f"{opened(bench)}/events"
    seen = {"If-Match": '"1"'}
    problem(bench.post(address, data=b"{", content_type="application/json", headers=seen), 400, "not-json")
    problem(bench.post(address, data=b" " * 1_000_001, content_type="application/json", headers=seen), 413, "too-large")
    problem(bench.post(address, data=b"{}", content_type="text/plain", headers=seen), 415, "not-json-type")


def test_lists_page_by_page(bench):
    """Following next gives each case once, newest first; filters are kept by the caller."""
    made = [opened(bench, reference=f"A-{number % 2}").rpartition("/")[2] for number in range(7)]
    add(bench, f"/v1/cases/{made[0]}", CLOSED)
    seen, cursor = [], ""
    while cursor is not None:
        page = bench.get(f"/v1/cases?limit=3{cursor and f'&cursor={cursor}'}").get_json()
        seen += [row["id"] for row in page["cases"]]
        cursor = page["next"]
    assert seen == made[::-1]
    for query, wanted in (
        ("state=closed", made[:1]),
        ("state=open&reference=A-0", made[6:1:-2]),
        ("circuit=other-lamp", []),
        ("since=2100-01-01", []),
        ("since=2020-01-01&limit=1", made[-1:]),
    ):
        assert [row["id"] for row in bench.get(f"/v1/cases?{query}").get_json()["cases"]] == wanted


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("limit=0", "#/limit"),
        ("limit=x", "#/limit"),
        ("limit=1&limit=2", "#/limit"),
        ("state=lost", "#/state"),
        ("since=soon", "#/since"),
        ("cursor=-1", "#/cursor"),
        ("cursor=9223372036854775808", "#/cursor"),
        ("reference=%00", "#/reference"),
        ("stat=open", "#/stat"),
    ],
)
def test_422_for_a_wrong_query(bench, query, pointer):
    """Every part of a query is checked, and pointed at by its name."""
    body = problem(bench.get(f"/v1/cases?{query}"), 422, "invalid-request")
    assert [row["pointer"] for row in body["errors"]] == [pointer]


def test_422_in_advice_leads_into_the_journal(bench):
    """Findings that cannot all be true are pointed at where they stand in the case."""
    address = opened(bench)
    never = {"kind": "finding", "body": {"test": "volts.C12-1.reminding", "value": 999, "unit": "V"}}
    add(bench, address, LIT, never)
    body = problem(bench.get(f"{address}/advice"), 422, "impossible-findings")
    assert body["errors"][0]["pointer"] == "#/events/2/body"
    assert names_something(body["errors"][0]["pointer"], bench.get(address).get_json())
    problem(bench.get(f"{address}/advice?depth=3"), 422, "invalid-request")


def test_repair_orders_are_a_table(bench):
    """Closed cases alone, as CSV, without the customer's words."""
    first, _ = opened(bench, reference="=1+1"), opened(bench)
    add(bench, first, CLOSED)
    response = bench.get("/v1/repair-orders")
    assert (response.status_code, response.mimetype) == (200, "text/csv")
    header, row, end = response.get_data(as_text=True).split("\r\n")
    assert (header.split(",")[:2], row.split(",")[1], end) == (["case", "reference"], "'=1+1", "")
    assert "stays dark" not in row


def test_health_and_ready(bench):
    """The process answers, and the store with it."""
    assert bench.get("/v1/health").get_json()["status"] == "ok"
    assert bench.get("/v1/ready").get_json() == {"status": "ready", "schema_revision": newest(), "circuits": 2}


def test_503_says_when_to_come_back(tmp_path):
    """A store that does not answer is 503 with Retry-After; health and advice without a case go on."""
    client = create_app(fakes.engine(), Store(f"postgresql://postgres@/x?host={tmp_path}")).test_client()
    for response in (client.get("/v1/cases"), client.post("/v1/cases", json=COMPLAINT), client.get("/v1/ready")):
        assert str(tmp_path) not in str(problem(response, 503, "store-away"))
        assert int(response.headers["Retry-After"]) == StoreAwayError.retry_after
    assert client.get("/v1/health").status_code == 200
    assert client.post("/v1/advice", json=fakes.GOOD_REQUEST).status_code == 200


def test_507_when_there_is_no_room(bench, store, monkeypatch):
    """A full store is 507, and the same request may be sent again."""

    def full(work):
        raise StoreFullError("no room on /srv/disk")

    monkeypatch.setattr(store, "write", full)
    body = problem(bench.post("/v1/cases", json=COMPLAINT), 507, "store-full")
    assert "/srv" not in str(body)
    monkeypatch.undo()
    assert bench.post("/v1/cases", json=COMPLAINT).status_code == 201


def test_500_for_a_store_of_a_newer_release(bench, store):
    """Tables of another release are an error of the server, whose log says what to do."""
    store.check()
    with store._writer.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    other = Store(store.url.render_as_string(hide_password=False))
    problem(create_app(fakes.engine(), other).test_client().get("/v1/cases"), 500, "broken-store")
    other.close()
