"""Who is let in, and that no shop sees what is another's, on every address."""

import re

import fakes
import pytest
from case_requests import CLOSED, COMPLAINT, LIT, add, opened, problem

from advisor.store.tokens import ROLES, Tokens
from api.app import create_app
from api.caller import LOCAL, Caller
from api.settings import Settings
from api.v1 import OPERATIONS

OPEN = {"getHealth"}
BEHIND = [operation for operation in OPERATIONS if operation.id not in OPEN]


def send(client, operation, case="nope", **headers):
    """Send the plainest request of an operation, about a case where it is about one."""
    path = operation.path.replace("/v1/cases/{id}", f"/v1/cases/{case}").replace("{id}", "belt-reminder")
    body = {"openCase": COMPLAINT, "appendEvents": {"events": [LIT]}, "advise": fakes.GOOD_REQUEST}.get(operation.id)
    sent = {"headers": {"If-Match": '"1"', **headers}, **({"json": body} if body else {})}
    return client.open(path, method=operation.method, **sent)


@pytest.mark.parametrize("operation", BEHIND, ids=lambda operation: operation.id)
def test_every_address_needs_a_token(guarded, token, operation):
    """Without a token, with a foreign one, another scheme or a page's cookie: 401 with the challenge, and no case."""
    for headers in (
        {},
        {"Authorization": "Bearer adv_nope"},
        {"Authorization": "Bearer"},
        {"Authorization": f"Basic {token()}"},
        {"Cookie": f"advisor_session={token()}"},
    ):
        response = send(guarded, operation, **headers)
        problem(response, 401, "token-missing")
        assert response.headers["WWW-Authenticate"].startswith('Bearer realm="advisor"')


def test_what_is_not_an_operation_needs_a_token_too(guarded, bearer):
    """The description, the figures, pages and addresses that do not exist; health and files do not."""
    for path in ("/v1/openapi.json", "/metrics", "/v1/nope", "/circuit/belt-reminder/case.json"):
        assert guarded.get(path).status_code == 401
    for path in ("/", "/circuit/belt-reminder", "/nope", "/problems/not-found"):
        response = guarded.get(path)
        assert (response.status_code, response.headers["Location"]) == (303, f"/sign-in?next={path}")
    for rule in guarded.application.url_map.iter_rules():
        path = re.sub("<[^>]+>", "x", rule.rule)
        for method in rule.methods - {"HEAD", "OPTIONS"}:
            with guarded.open(path, method=method) as response:
                known = rule.endpoint in ("static", "getHealth", "sign_in.form", "sign_in.enter")
                assert known or response.status_code in (303, 401), rule.rule
    assert guarded.get("/v1/health").status_code == 200
    assert guarded.get("/v1/openapi.json", headers=bearer()).status_code == 200


@pytest.mark.parametrize("operation", [o for o in BEHIND if "/v1/cases/{id}" in o.path], ids=lambda o: o.id)
def test_another_shops_case_is_not_there(guarded, bearer, operation):
    """Every address of a case answers another shop's token of any role as if the case did not exist, byte for byte."""
    mine, theirs = bearer("manager"), bearer("manager", shop="south")
    case = opened_by(guarded, mine)
    refused, absent = send(guarded, operation, case, **theirs), send(guarded, operation, "x" * len(case), **theirs)
    problem(refused, 404, "not-found")
    assert refused.get_data(as_text=True).replace(case, "x" * len(case)) == absent.get_data(as_text=True)
    assert send(guarded, operation, case, **mine).status_code != 404
    assert guarded.get(f"/v1/cases/{case}", headers=theirs).status_code == 404


def opened_by(client, headers, **change):
    """Open a case with a token and give its id."""
    response = client.post("/v1/cases", json={**COMPLAINT, **change}, headers=headers)
    assert response.status_code == 201, response.get_json()
    return response.get_json()["id"]


def test_lists_and_links_stay_in_the_shop(guarded, bearer):
    """Neither a list, nor the orders, nor a link to an earlier case reaches into another shop."""
    mine, theirs = bearer("analyst"), bearer("analyst", shop="south")
    case = opened_by(guarded, mine)
    assert add(guarded, f"/v1/cases/{case}", CLOSED, **mine).status_code == 200
    assert guarded.get("/v1/cases", headers=theirs).get_json()["cases"] == []
    assert len(guarded.get("/v1/cases", headers=mine).get_json()["cases"]) == 1
    assert guarded.get("/v1/repair-orders", headers=theirs).get_data(as_text=True).count("\r\n") == 1
    assert guarded.get("/v1/repair-orders", headers=mine).get_data(as_text=True).count("\r\n") == 2
    linked = guarded.post("/v1/cases", json={**COMPLAINT, "comeback_of": case}, headers=theirs)
    problem(linked, 422, "invalid-request")
    link = {"kind": "comeback", "body": {"of": case}}
    problem(add(guarded, f"/v1/cases/{opened_by(guarded, theirs)}", link, **theirs), 422, "invalid-request")


def test_a_key_is_the_tokens_own(guarded, bearer):
    """The same idempotency key in another shop, and from another token of the shop, is another request."""
    key = {"Idempotency-Key": "k"}
    first, second, third = bearer(), bearer(name="ben"), bearer(shop="south")
    made = [opened_by(guarded, {**headers, **key}) for headers in (first, second, third, first)]
    assert len(set(made)) == 3 and made[0] == made[3]


def test_events_say_by_whose_token(guarded, bearer):
    """What a request says of its sender does not count beside its token; on the machine itself it does."""
    headers = bearer(name="ben")
    case = opened_by(guarded, headers, by="somebody else")
    sent = {"by": "somebody else", "events": [LIT]}
    guarded.post(f"/v1/cases/{case}/events", json=sent, headers={**headers, "If-Match": '"1"'})
    events = guarded.get(f"/v1/cases/{case}", headers=headers).get_json()["events"]
    assert [event["by"] for event in events] == ["ben", "ben"]


@pytest.mark.parametrize("operation", BEHIND, ids=lambda operation: operation.id)
def test_roles(guarded, bearer, operation):
    """A role below an operation's own is 403 before anything is looked at; its own and those above are let in."""
    for role in ROLES:
        response = send(guarded, operation, **bearer(role))
        if ROLES.index(role) < ROLES.index(operation.role):
            problem(response, 403, "role")
        else:
            assert response.status_code not in (401, 403)


def test_the_figures_are_the_managers(guarded, bearer, bench):
    """Figures are for managers, and for whoever sits at a machine without tokens."""
    assert guarded.get("/metrics", headers=bearer("analyst")).status_code == 403
    assert guarded.get("/metrics", headers=bearer("manager")).status_code == 200
    assert bench.get("/metrics").status_code == 200


def test_expired_and_revoked_tokens_are_out_at_once(guarded, store, token):
    """The next request after a revocation is 401; so is every one with a token whose day is over."""
    old, secret = token(days=-0.001), token()
    headers = {"Authorization": f"Bearer {secret}"}
    assert guarded.get("/v1/cases", headers={"Authorization": f"Bearer {old}"}).status_code == 401
    assert guarded.get("/v1/cases", headers=headers).status_code == 200
    (mine,) = (row for row in store.reading(lambda c: Tokens(c).all()) if row.expires_at > row.made_at)
    store.writing(lambda connection: Tokens(connection).revoke(mine.id, mine.made_at))
    assert guarded.get("/v1/cases", headers=headers).status_code == 401


def test_without_tokens_the_machine_is_the_one_shop(bench):
    """On loopback everything is allowed, in the shop that a token without --shop opens too."""
    assert all(LOCAL.may(role) for role in ROLES)
    assert not Caller("shop", "x", "technician", "1").may("manager")
    assert bench.get(opened(bench)).status_code == 200


def test_a_store_that_is_away_lets_nobody_in(tmp_path):
    """Where tokens cannot be looked up the answer is 503, not an open door."""
    from advisor.store.store import Store

    away = Store(f"postgresql://postgres@/x?host={tmp_path}")
    client = create_app(fakes.engine(), away, Settings(tokens=True)).test_client()
    response = client.post("/v1/advice", json=fakes.GOOD_REQUEST, headers={"Authorization": "Bearer adv_x"})
    problem(response, 503, "store-away")
    assert int(response.headers["Retry-After"]) > 0
