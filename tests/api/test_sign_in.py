"""Signing in to the pages, staying signed in, and writes from other sites."""

import re

import fakes
import pytest

from advisor.store.tokens import Tokens
from api.app import create_app
from api.csrf import csrf_token
from api.limits import GUESSES
from api.settings import Settings


def sign_in(client, secret, **more):
    """Send the sign-in form."""
    return client.post("/sign-in", data={"token": secret, "next": more.pop("next", "/")}, **more)


def session_of(client) -> str:
    """Give the session that a client's cookie holds."""
    return client.get_cookie("advisor_session").value


def test_a_token_opens_the_pages(guarded, token):
    """Asked for a page, sent to the form, and with a token to the page that was asked for."""
    wanted = "/circuit/belt-reminder/case?symptom=lamp-stays-dark"
    away = guarded.get(wanted)
    form = guarded.get(away.headers["Location"])
    hidden = re.search('name="next" value="([^"]*)"', form.get_data(as_text=True))[1]
    response = sign_in(guarded, token(), next=hidden)
    assert (response.status_code, response.headers["Location"]) == (303, wanted)
    assert guarded.get(wanted).status_code == 200


def test_the_cookie_is_out_of_reach(guarded, token):
    """No script reads it, no other site sends it, over TLS it never leaves TLS, and it is not the token."""
    secret = token()
    for base, is_secure in (("http://localhost", False), ("https://localhost", True)):
        cookie = sign_in(guarded, secret, base_url=base).headers["Set-Cookie"]
        assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
        assert ("Secure" in cookie.split("; ")) == is_secure
        assert secret not in cookie


def test_a_session_is_for_pages_alone(guarded, token):
    """A browser's cookie opens no address for programs, so that no other page can lead it there."""
    sign_in(guarded, token("manager"))
    assert guarded.get("/").status_code == 200
    assert guarded.get("/v1/cases").status_code == 401
    assert guarded.get("/metrics").status_code == 401


def test_signing_out_ends_it_everywhere(guarded, token):
    """After signing out the old cookie is worth nothing, wherever it was kept."""
    sign_in(guarded, token())
    kept = session_of(guarded)
    page = guarded.get("/").get_data(as_text=True)
    field = re.search('name="csrf" value="([^"]*)"', page)[1]
    assert guarded.post("/sign-out", data={"csrf": field}).status_code == 303
    guarded.set_cookie("advisor_session", kept)
    assert guarded.get("/").status_code == 303


def test_revoking_the_token_ends_the_session(guarded, store, token):
    """The next page after a revocation is the sign-in form."""
    sign_in(guarded, token())
    (row,) = store.reading(lambda connection: Tokens(connection).all())
    store.writing(lambda connection: Tokens(connection).revoke(row.id, row.made_at))
    assert guarded.get("/").status_code == 303


@pytest.mark.parametrize(
    "wanted",
    [
        "https://elsewhere.example/",
        "//elsewhere.example",
        "/\\elsewhere.example",
        "javascript:x",
        "",
        "http:[",
        "/\r\nX: y",
    ],
)
def test_signing_in_never_leads_elsewhere(guarded, token, wanted):
    """The address to go on to stays on this server."""
    assert sign_in(guarded, token(), next=wanted).headers["Location"] == "/"


def test_guessing_is_slow(guarded, token):
    """After some wrong tokens an address has to wait, with a right one too; other addresses do not."""
    for _ in range(GUESSES):
        wrong = sign_in(guarded, "adv_wrong")
        assert (wrong.status_code, "No token in force" in wrong.get_data(as_text=True)) == (403, True)
        assert "adv_wrong" not in wrong.get_data(as_text=True)
    late = sign_in(guarded, token())
    assert late.status_code == 429
    assert int(late.headers["Retry-After"]) > 0
    elsewhere = {"REMOTE_ADDR": "192.0.2.9"}
    assert sign_in(guarded, token(), environ_overrides=elsewhere).status_code == 303


def test_a_form_needs_its_sessions_secret(guarded, token):
    """A write of a session without the secret of its forms, or with that of another session, is refused."""
    sign_in(guarded, token())
    mine = csrf_token(session_of(guarded))
    for field in ({}, {"csrf": ""}, {"csrf": "é"}, {"csrf": csrf_token("adv_other")}):
        assert guarded.post("/sign-out", data=field).status_code == 403
    assert guarded.get("/").status_code == 200
    assert guarded.post("/sign-out", headers={"X-CSRF-Token": mine}).status_code == 303


ELSEWHERE = [
    {"Origin": "https://elsewhere.example"},
    {"Origin": "http://localhost:9"},
    {"Origin": "https://localhost"},
    {"Origin": "null"},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
]


@pytest.mark.parametrize("headers", ELSEWHERE)
def test_writes_for_other_sites_are_refused(bench, headers):
    """On this machine, where nobody signs in, a page of another site can make a browser send but not be heard."""
    body = {"circuit": "belt-reminder"}
    response = bench.post("/v1/cases", json=body, headers=headers)
    assert (response.status_code, response.get_json()["type"]) == (403, "/problems/cross-site")
    assert bench.get("/v1/cases").get_json()["cases"] == []


@pytest.mark.parametrize("headers", ELSEWHERE)
def test_nobody_is_signed_in_by_another_site(guarded, token, headers):
    """The sign-in form cannot be sent from elsewhere, with somebody else's token."""
    assert sign_in(guarded, token(), headers=headers).status_code == 403


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"])
def test_what_a_form_of_another_site_can_send_is_no_json(bench, kind):
    """The three types that a browser sends anywhere without asking are not taken."""
    response = bench.post("/v1/cases", data=b'{"circuit": "belt-reminder"}', content_type=kind)
    assert response.status_code == 415


def test_own_writes_pass(bench):
    """A page of this server, a program, and a person's own address line."""
    for headers in ({"Origin": "http://localhost"}, {}, {"Sec-Fetch-Site": "same-origin"}, {"Sec-Fetch-Site": "none"}):
        assert bench.post("/v1/cases", json={"circuit": "belt-reminder"}, headers=headers).status_code == 201


def test_without_tokens_there_is_nothing_to_sign_in_to(client):
    """The form leads home, and pages have no way out."""
    assert client.get("/sign-in").headers["Location"] == "/"
    assert "csrf" not in client.get("/").get_data(as_text=True)


def test_a_named_host_is_answered_for(store):
    """A server that other machines reach answers for the names that it was given."""
    settings = Settings(hosts=frozenset({"advisor.shop.example"}))
    client = create_app(fakes.engine(), store, settings).test_client()
    assert client.get("/", headers={"Host": "advisor.shop.example"}).status_code == 200
    assert client.get("/", headers={"Host": "localhost"}).status_code == 421
