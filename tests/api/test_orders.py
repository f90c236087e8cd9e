"""Repair orders over HTTP, and plans of cases."""

import sys

import fakes
import pytest
from case_requests import CLOSED, COMPLAINT, add, opened, problem

from advisor.cases.planning import MOST, Planner
from advisor.contract.plan_answer import PlanAnswer
from advisor.errors import BusyError
from advisor.store.store import Store
from api.app import create_app

PARQUET = "application/vnd.apache.parquet"
TABLE = b"reference,circuit,closed_at\r\nA,belt-reminder,2026-03-02\r\nB,nope,2026-03-02\r\n"


def send(client, data=TABLE, kind="text/csv", **headers):
    """Send a table."""
    return client.post("/v1/repair-orders", data=data, content_type=kind, headers=headers)


def test_a_table_goes_in_and_out(bench):
    """Good rows are kept and exported; the bad one is told with line and column."""
    response = send(bench)
    assert response.status_code == 200
    assert response.get_json()["errors"][0] == {
        **{"line": 3, "cell": 2, "column": "circuit"},
        "detail": response.get_json()["errors"][0]["detail"],
    }
    assert (response.get_json()["accepted"], response.get_json()["rejected"]) == (1, 1)
    assert ",A,belt-reminder," in bench.get("/v1/repair-orders").get_data(as_text=True)


def test_refusals(client):
    """Another type, no table, too much, and a key for another table."""
    problem(send(client, kind="application/json"), 415, "not-csv-type")
    problem(send(client, b"x"), 400, "not-csv")
    problem(send(client, b" " * 20_000_001), 413, "too-large")
    assert send(client, TABLE + b"\r\n" * 1_000_000).status_code == 200
    assert send(client, **{"Idempotency-Key": "k"}).status_code == 200
    problem(send(client, TABLE[:-9], **{"Idempotency-Key": "k"}), 422, "key-reused")


def test_parquet_over_http(client, monkeypatch):
    """Parquet where it is asked for; 501 with the way out where the extra is missing."""
    add(client, opened(client), CLOSED)
    response = client.get("/v1/repair-orders?format=parquet")
    assert (response.mimetype, response.data[:4]) == (PARQUET, b"PAR1")
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert "analyst" in problem(client.get("/v1/repair-orders?format=parquet"), 501, "extra-missing")["detail"]
    problem(client.get("/v1/repair-orders?format=xlsx"), 422, "invalid-request")


@pytest.mark.parametrize(
    ("accept", "path", "kind"),
    [
        (PARQUET, "", PARQUET),
        (f"text/csv;q=0.5, {PARQUET}", "", PARQUET),
        (f"text/csv, {PARQUET};q=0.5", "", "text/csv"),
        ("*/*", "", "text/csv"),
        ("application/json", "", "text/csv"),
        (PARQUET, "?format=csv", "text/csv"),
        ("text/csv", "?format=parquet", PARQUET),
    ],
)
def test_the_form_that_is_accepted(client, accept, path, kind):
    """The form of orders is that which the address names, else the one preferred; caches are told that it varies."""
    response = client.get(f"/v1/repair-orders{path}", headers={"Accept": accept})
    assert (response.status_code, response.mimetype) == (200, kind)
    assert "Accept" in response.headers["Vary"]


def test_serving_does_not_load_what_writes_parquet():
    """The library of Parquet is loaded when somebody asks for it."""
    import subprocess

    code = "import sys, api.app; print([name for name in ('pyarrow', 'pandas', 'gunicorn') if name in sys.modules])"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_erasing_over_http(client):
    """What may name a person is gone from the case; the rest of it stays, and so does its version."""
    address = opened(client, identity="PLATE-7")
    erased = client.delete(f"{address}/personal").get_json()
    assert (erased["words"], erased["identity"]) == ("[erased]", "[erased]")
    assert (erased["version"], erased["symptom"]) == (1, "lamp-stays-dark")


def plan_of(model, symptom, vehicle, costs):
    """Give an empty plan for a complaint."""
    value = dict.fromkeys(("cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over", "cut_off"), vehicle.years)
    release = {"knowledge": model.knowledge, "priors": model.priors, "engine": "1"}
    told = {"circuit": "belt-reminder", "title": "", "vehicle": "", "symptom": symptom, "symptom_title": ""}
    return PlanAnswer.model_validate({**told, "release": release, "currency": "EUR", "value": value, "steps": ()})


def cases_of(tmp_path):
    """Give a book of cases with one for each of many vehicles."""
    from datetime import UTC, datetime

    from advisor.cases.book import CaseBook, Write

    store = Store(str(tmp_path / "cases.sqlite"))
    book = CaseBook(store, fakes.engine(), lambda: datetime.now(UTC))
    cases = [book.open({**COMPLAINT, "vehicle": {"years": float(year)}}, Write()).id for year in range(MOST + 2)]
    return store, book, cases


def test_plans_are_kept_and_made_one_at_a_time(tmp_path):
    """Each plan is made once while it is kept; who asks for another meanwhile is told to wait, and a failure frees."""
    store, book, cases = cases_of(tmp_path)
    made = []

    def make(*asked):
        """Make a plan, in the middle of which others ask."""
        made.append(asked[2].years)
        if asked[2].years == 0.0:
            with pytest.raises(BusyError):
                planner.plan(book, "shop", cases[1])
        return plan_of(*asked)

    planner = Planner(make)
    for case in (*cases, cases[-1], cases[0]):
        planner.plan(book, "shop", case)
    assert made == [*map(float, range(MOST + 2)), 0.0]
    failing = Planner(lambda *_: 1 / 0)
    for _ in range(2):
        with pytest.raises(ZeroDivisionError):
            failing.plan(book, "shop", cases[0])
    store.close()


def test_a_case_without_symptom_has_no_plan(client):
    """A plan is for a complaint; a case without one is told so, and an unknown one is not there."""
    response = client.post("/v1/cases", json={"circuit": "belt-reminder"})
    body = problem(client.get(f"{response.headers['Location']}/plan"), 409, "case-state")
    assert body["errors"][0]["pointer"] == "#/symptom"
    problem(client.get("/v1/cases/nope/plan"), 404, "not-found")


def test_the_plan_of_a_case_is_the_plan_of_its_complaint(tmp_path, monkeypatch):
    """On a shipped circuit the answer is what the command writes for the same complaint, cut short for the test."""
    import advisor
    from advisor.cli.plan import plan as command
    from advisor.decision import conditional

    monkeypatch.setattr(conditional.plan_for, "__defaults__", (conditional.Limits(0.2),))
    store = Store(str(tmp_path / "cases.sqlite"))
    client = create_app(advisor.shipped_engine(), store).test_client()
    address = client.post("/v1/cases", json={"circuit": "reversing-lamps", "symptom": "left-dark"}).headers["Location"]
    answer = client.get(f"{address}/plan").get_json()
    from click.testing import CliRunner

    written = CliRunner().invoke(
        command, ["reversing-lamps", "--symptom", "left-dark", "--least-share", "0.2", "--json"]
    )
    assert PlanAnswer.model_validate_json(written.output) == PlanAnswer.model_validate(answer["plan"], strict=False)
    assert (answer["version"], answer["release_changed"]) == (1, False)
    store.close()


def test_a_broken_circuit_is_named_and_the_others_served(tmp_path):
    """The list gives the good ones and names the broken one; asking for that one is an error of the server."""
    from advisor.errors import KnowledgeError

    def load(name):
        """Fail for one of the circuits."""
        if name == "other-lamp":
            raise KnowledgeError([])
        return fakes.MODEL

    store = Store(str(tmp_path / "cases.sqlite"))
    client = create_app(fakes.engine(load=load), store).test_client()
    listed = client.get("/v1/circuits").get_json()
    assert ([row["id"] for row in listed["circuits"]], listed["broken"]) == (["belt-reminder"], ["other-lamp"])
    assert "other-lamp" in client.get("/").get_data(as_text=True)
    assert client.get("/v1/circuits/other-lamp").status_code == 500
    assert client.post("/v1/advice", json=fakes.GOOD_REQUEST).status_code == 200
    store.close()
