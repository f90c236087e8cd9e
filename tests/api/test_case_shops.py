"""Pages of cases for callers with tokens: signed by name, hidden from other shops, a session's forms its own."""

from forms import get, opened, press, send


def sign_in(client, secret: str) -> None:
    """Begin a session."""
    assert client.post("/sign-in", data={"token": secret}).status_code == 303


def test_a_case_belongs_to_its_shop(guarded, token):
    """Another shop's pages do not list it, show it, or take a form for it; its own do, and say who entered what."""
    sign_in(guarded, token(shop="north", name="anna"))
    page = press(guarded, opened(guarded), "Lit")
    case = page.form("Keep these")[0].action.rpartition("/")[0]
    secret = token(name="anna")
    events = guarded.get(f"/v1{case}", headers={"Authorization": f"Bearer {secret}"}).get_json()["events"]
    assert {event["by"] for event in events} == {"anna"}
    sign_in(guarded, token(shop="south", name="ben"))
    assert case not in get(guarded, "/?state=any").source
    for path in (case, f"{case}/close", f"{case}/print"):
        get(guarded, path, 404)
    form, _ = get(guarded, "/circuit/belt-reminder").form("stays dark")
    secrets = {name: value for name, value in form.fields if name in ("nonce", "csrf")}
    assert guarded.post(f"{case}/note", data={**secrets, "seen": "1", "text": "x"}).status_code == 404


def test_a_form_of_an_earlier_session_is_refused(guarded, token):
    """Without the secret of the session nothing is written; with it, it is."""
    sign_in(guarded, token())
    page = opened(guarded)
    assert send(guarded, page, "Lit", csrf="x").status_code == 403
    assert "Look at the belt lamp at key-on: lit" in press(guarded, page, "Lit").text


def test_a_retry_after_signing_in_again_is_written_once(guarded, token):
    """The same nonce from another session of the same token is the same write."""
    secret = token()
    sign_in(guarded, secret)
    page = opened(guarded)
    press(guarded, page, "Lit")
    sign_in(guarded, secret)
    csrf = dict(get(guarded, "/circuit/belt-reminder").form("stays dark")[0].fields)["csrf"]
    again = press(guarded, page, "Lit", csrf=csrf)
    assert again.source.count('Take back<span class="unseen">: Look at the belt lamp') == 1
