"""Forms of a case: written once, kept when they cannot be taken, undone, and closed with everything put back."""

import re

import pytest
from forms import checked, get, opened, press, send

JUMPER = "jumper.C12-9-to-ground.reminding"
EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


@pytest.fixture(scope="module")
def client(shared_client):
    """Give one client for all tests here: each has a case of its own."""
    return shared_client


@pytest.fixture
def page(client):
    """Give the page of a case that has just been opened."""
    return opened(client)


def address(page) -> str:
    """Give the address of the case of a page."""
    return page.form("Keep these")[0].action.rpartition("/")[0]


def chosen(client, page, test: str):
    """Give the page with a test that the reader chose."""
    return get(client, f"{address(page)}?pick={test}")


def version(client, page) -> int:
    """Give the version of the case of a page."""
    return client.get(f"/v1{address(page)}").get_json()["version"]


def kinds(client, page) -> list[str]:
    """Give the kinds of the events of a case."""
    return [event["kind"] for event in client.get(f"/v1{address(page)}").get_json()["events"]]


def test_a_form_sent_twice_is_written_once(client, page):
    """The same nonce leads to the same case, which has one finding."""
    first = send(client, page, "Lit")
    again = send(client, page, "Lit")
    assert (first.status_code, again.status_code) == (303, 303)
    assert first.headers["Location"] == again.headers["Location"]
    assert kinds(client, page).count("finding") == 1


def test_opening_twice_opens_once(client):
    """A second tap on a complaint leads to the case that the first has opened."""
    asked = get(client, "/circuit/belt-reminder")
    places = {send(client, asked, "stays dark").headers["Location"] for _ in range(2)}
    assert len(places) == 1


def test_a_stale_page_shows_what_changed_and_keeps_what_was_entered(client, page):
    """The second of two people is told what the first has entered, and enters his own all the same."""
    press(client, page, "Note it", text="belt is frayed")
    stale = checked(send(client, page, "Dark"), 412)
    assert "Note: belt is frayed" in stale.text
    assert "Look at the belt lamp at key-on: dark" in stale.text
    assert kinds(client, page).count("finding") == 0
    assert "Look at the belt lamp at key-on: dark" in press(client, stale, "Enter it all the same").text


def test_another_answer_after_going_back_is_another_write(client, page):
    """The page of before the first answer is stale, whatever its nonce."""
    press(client, page, "Lit")
    stale = checked(send(client, page, "Dark"), 412)
    assert "Look at the belt lamp at key-on: lit" in stale.text


@pytest.mark.parametrize("reading", ["abc", "nan", "1e9", "999"])
def test_a_wrong_reading_is_kept_to_be_corrected(client, page, reading):
    """A reading that is none, or that no fault gives, is not written and stands there to be corrected."""
    found = chosen(client, page, "volts.C12-7.reminding")
    again = checked(send(client, found, "Enter", reading=reading), 422)
    assert dict(again.form("Send it again")[0].fields)["reading"] == reading
    assert version(client, page) == 1
    assert "Switch input of the belt unit: 11.8 V" in press(client, again, "Send it again", reading="11,8").text


@pytest.mark.parametrize(
    ("typed", "unit", "said"),
    [
        ("11,8", "V", "11.8 V"),
        ("-0.05", "V", "−0.05 V"),
        ("−50", "mV", "−50 mV"),
        ("350mV", "V", "350 mV"),
        ("OL", "V", "over range"),
    ],
)
def test_a_reading_as_it_is_typed(client, page, typed, unit, said):
    """Comma, either minus, a chosen or a typed unit, and over range are read."""
    found = chosen(client, page, "volts.C12-7.reminding")
    assert f"Switch input of the belt unit: {said}" in press(client, found, "Enter", reading=typed, unit=unit).text


def test_undo_takes_back_all_that_was_entered_at_once(client, page):
    """An answer goes with what it opened, put on and used; it can be brought back."""
    done = press(client, chosen(client, page, JUMPER), "Dark")
    assert "To put back before the case closes Unplugged: belt unit plug C12" in done.text
    undone = press(client, done, "Undo last")
    for words in ("Nothing is on the vehicle.", "Used: 0 min", "1 taken back"):
        assert words in undone.text
    assert "Jumper: C12 cavity 9" in press(client, undone, "Bring back").text


def test_any_entry_can_be_taken_back(client, page):
    """Not only the last one."""
    both = press(client, press(client, page, "Lit"), "Note it", text="belt is frayed")
    one = press(client, both, "Take back: Look at the belt lamp")
    assert "Note: belt is frayed" in one.text
    assert "Take back: Look at the belt lamp" not in one.text


@pytest.mark.parametrize("words", ["Can't reach", "Not sure"])
def test_no_answer_is_no_evidence(client, page, words):
    """A test that cannot be done is left out and changes no share; it can be brought back."""
    bars = re.compile(r'class="fill" width="([^"]+)"')
    left = press(client, page, words)
    assert "Left out Look at the belt lamp at key-on" in left.text
    assert bars.findall(page.source) == bars.findall(left.source)
    assert "Left out Look" not in press(client, left, "Bring back: Look").text


def test_it_started_working(client, page):
    """Said instead of an answer: the test is left out, and the journal has what it is evidence for."""
    left = press(client, page, "Started working")
    assert "Left out Look at the belt lamp at key-on" in left.text
    assert "(it started working)" in left.text
    event = client.get(f"/v1{address(page)}").get_json()["events"][-1]
    assert (event["kind"], event["body"]["started_working"]) == ("declined", True)
    assert "Left out Look" not in press(client, left, "Bring back: Look").text


@pytest.mark.parametrize("words", [EVIL, "{{ 7 * 7 }}", "</textarea><script>x</script>", "é \u202e \U0001f690"])
def test_the_customers_words_are_never_markup(client, words):
    """Whatever is entered stands as text on every page of the case."""
    page = press(
        client, get(client, "/circuit/belt-reminder"), "stays dark", words=words, identity=words, reference=words
    )
    page = press(client, press(client, page, "Note it", text=words), "Not fit until then", until=words)
    for path in ("/", address(page), f"{address(page)}/print", f"{address(page)}/close"):
        found = get(client, path)
        assert len(found.all("script")) == 1
        assert not [tag for tag, attrs in found.tags if tag == "img" or "onerror" in attrs]
    assert words in get(client, address(page)).text


@pytest.mark.parametrize("change", [{"nonce": ""}, {"nonce": "a b"}, {"nonce": "x" * 65}])
def test_a_form_without_its_nonce_is_refused(client, page, change):
    """What no page of ours has sent is not written."""
    assert send(client, page, "Lit", **change).status_code == 400
    assert version(client, page) == 1


@pytest.mark.parametrize("seen", ["", "x", "0", "99"])
def test_a_form_without_a_version_changes_nothing(client, page, seen):
    """It is answered as one that has not seen the case."""
    assert send(client, page, "Lit", seen=seen).status_code == 412
    assert version(client, page) == 1


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
    ],
)
def test_another_sites_form_is_refused(client, page, headers):
    """A page of another site cannot write, however it sends its form."""
    form, button = page.form("Lit")
    response = client.post(form.action, data=dict([*form.fields, button]), headers=headers)
    assert "another site" in checked(response, 403).text
    assert version(client, page) == 1


@pytest.mark.parametrize(
    ("action", "change"),
    [
        ("answer", {"test": "nope", "outcome": "lit"}),
        ("answer", {"test": "look.belt-lamp.prove-out", "outcome": "nope"}),
        ("answer", {}),
        ("repair", {"repair": "buckle-side", "result": "nope"}),
        ("symptom", {"symptom": "nope"}),
        ("undo", {"of": "1"}),
        ("undo", {"of": "77"}),
        ("undo", {}),
        ("put-back", {"piece": "nope"}),
        ("authorised", {"whom": "owner"}),
        ("authorised", {"minutes": "many", "whom": "owner"}),
        ("put-on", {"what": "tape"}),
        ("note", {}),
        ("note", {"text": "x" * 4001}),
        ("intake", {}),
        ("details", {}),
        ("spent", {}),
        ("close", {"cause": "x"}),
        ("close", {"cause": "x", "correction": "y", "status": "confirmed", "parts": "lamp; dear"}),
        ("reopen", {"why": "x"}),
    ],
)
def test_what_cannot_be_taken_is_told_on_a_page(client, page, action, change):
    """A damaged or impossible form is answered with a page that says what is wrong, and writes nothing."""
    response = client.post(f"{address(page)}/{action}", data={"nonce": "n" * 20, "seen": "1", **change})
    found = checked(response, response.status_code)
    assert response.status_code in (409, 422)
    assert found.link("Back to the case") == address(page)
    assert version(client, page) == 1


def test_what_is_on_the_vehicle_blocks_closing(client, page):
    """The closing page says what is still on, ticks it off, and only then asks for the cause."""
    on = press(client, page, "Put it on the list", what="bypass", where="C12/9")
    again = press(client, on, "Put it on the list", what="bypass", where="C12/9")
    assert "C12/9 2" in again.source
    blocked = get(client, f"{address(page)}/close")
    assert "It cannot be closed yet" in blocked.text
    blocked = press(client, blocked, "Put back")
    assert "It cannot be closed yet" in blocked.text
    assert "Try the complaint again" in press(client, blocked, "Put back").text
    forced = {"nonce": "n" * 20, "seen": "3", "cause": "c", "correction": "d", "status": "unknown"}
    still = client.post(f"{address(page)}/close", data=forced)
    assert still.status_code == 412


def test_a_program_or_an_old_page_cannot_close_over_a_jumper(client, page):
    """With something on, a closing is refused in a clear word, and what was entered is kept."""
    press(client, page, "Put it on the list", what="jumper")
    form = {"nonce": "n" * 20, "seen": "2", "cause": "worn", "correction": "new", "status": "confirmed"}
    refused = checked(client.post(f"{address(page)}/close", data=form), 409)
    assert "The case cannot close: not put back: jumper" in refused.text
    assert dict(refused.form("Send it again")[0].fields)["cause"] == "worn"


def test_from_repair_to_write_up_and_back(client, page):
    """Closed with complaint, cause, correction, parts and minutes; printed; opened again; came back."""
    done = press(client, press(client, page, "Lit"), "The complaint is gone")
    done = press(client, done, "Not fit until then", until="the belt lamp was tried on the road")
    form = get(client, f"{address(page)}/close")
    filled = dict(form.form("Close the case")[0].fields)
    assert filled["status"] == "confirmed"
    assert filled["correction"] == "Put the buckle switch side right"
    assert "Look at the belt lamp at key-on; 1" in filled["steps"]
    closed = press(client, form, "Close the case", cause="buckle switch worn", parts="1 x buckle; 140,50\n2 x clip")
    sheet = get(client, closed.link("Print the write-up"))
    for words in (
        "buckle switch worn (confirmed: the complaint is gone after the repair)",
        "Look at the belt lamp at key-on: lit",
        "1 × buckle: 140.50 EUR",
        "2 × clip",
        "Not fit for the road until: the belt lamp was tried on the road",
        "May come back",
    ):
        assert words in sheet.text
    assert "Undo last" not in closed.text
    new = press(client, get(client, closed.link("The vehicle came back")), "stays dark")
    assert new.link("The earlier case") == address(page)
    assert "Undo last" in press(client, closed, "Open it again", why="not gone after all").text
    assert kinds(client, page)[-2:] == ["closed", "reopened"]


def test_details_and_intake_can_come_later(client, page):
    """What the counter learns later is kept; intake answers become a note."""
    later = press(client, page, "Keep these", reference="W-19", years="12", words="wipes and blinks")
    assert "Details: customer's words wipes and blinks; order W-19; 12 years, 4200 hours in use" in later.text
    asked = press(client, later, "Note the answers", when="wet", worked_on="tow socket")
    assert "Note: Intake: when: wet; worked on last: tow socket" in asked.text
    told = press(client, asked, "Note the answers", always="goes", when="on bumps")
    assert ", comes and goes" in told.text and "Note: Intake: when: on bumps" in told.text


def test_where_somebody_has_worked(client, page):
    """Places are chosen by their titles, kept as events with what was done there, and undone together."""
    asked = press(client, page, "Note the answers", worked_on="seat", worked_at="under-seat", added_at="knee-panel")
    assert "Worked on last: under the driver" in asked.text
    assert "Equipment added: behind the knee panel" in asked.text
    case = client.get(f"/v1{address(page)}").get_json()
    assert case["worked"] == [{"place": "under-seat", "what": "work"}, {"place": "knee-panel", "what": "equipment"}]
    assert client.get(f"/v1{address(page)}/advice").status_code == 200
    press(client, asked, "Undo last")
    assert client.get(f"/v1{address(page)}").get_json()["worked"] == []


def test_fit_again(client, page):
    """Not fit is stated on top until it is fit again."""
    unfit = press(client, page, "Not fit until then", until="the stop lamps work")
    assert unfit.text.index("Not fit for the road until: the stop lamps work") < unfit.text.index("Test next")
    assert "Not fit for the road until" not in press(client, unfit, "Fit again", why="tried").text.partition("Noted")[0]


def test_going_back_never_shows_an_old_case(client, page):
    """No page of a case is kept by the browser."""
    assert client.get(address(page)).headers["Cache-Control"] == "no-store"
