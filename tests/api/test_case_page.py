"""The page of an open case: the next step first, what is known under it, everything in a technician's words."""

import re
from dataclasses import replace

import fakes
import pytest
from forms import get, opened, press

from advisor.store.store import Store
from api.app import create_app

LOOK = "look.belt-lamp.prove-out"
METHOD = ("posterior", "hypothes", "node", "deciban", "prior ")


def address(page) -> str:
    """Give the address of the case of a page."""
    return page.form("Undo" if "Undo last:" in page.text else "Note it")[0].action.rpartition("/")[0]


@pytest.fixture(scope="module")
def client(shared_client):
    """Give one client for all tests here: each has a case of its own."""
    return shared_client


@pytest.fixture
def page(client):
    """Give the page of a case that has just been opened."""
    return opened(client)


def chosen(client, page, test: str):
    """Give the page with a test that the reader chose."""
    return get(client, f"{address(page)}?pick={test}")


def test_the_next_step_comes_first(client, page):
    """The step stands before the causes, with set-up, place, leads and the answers."""
    found = chosen(client, page, "volts.C12-7.reminding")
    words = (
        "Set up",
        "Go to",
        "Behind the knee panel",
        "C12 cavity 7, wire GNWH",
        "battery negative post",
        "Near zero",
    )
    places = [found.text.index(text) for text in (*words, "What it may be")]
    assert places == sorted(places)
    assert "You chose" in found.text
    assert 'inputmode="decimal"' in found.source


def test_good_is_the_last_of_the_answers(client, page):
    """The good answer stands lowest, next to the thumb, whatever the test; only what is not settled is under it."""
    for test in fakes.MODEL.tests:
        found = chosen(client, page, test)
        form, _ = found.form("Can't reach")
        labels = [text.split()[0] for name, _, text in form.buttons if name == "outcome"]
        assert labels.count("Good") == 1
        assert labels[-1] == "Good"


def test_cautions_stand_before_the_place(client, page):
    """Safety is read before anything is opened."""
    found = chosen(client, page, "volts.X31-1.reminding")
    assert found.text.index("Restraint parts are close by") < found.text.index("Go to")
    assert "vehicle maker's procedure, local codes and licensed practice come first" in found.text


def test_each_answer_says_what_it_means(client, page):
    """Beside each outcome stands what would then be likeliest."""
    found = chosen(client, page, LOOK)
    assert "Dark then most likely belt warning lamp: open, about 4 in 10" in found.text
    assert "Lit then most likely buckle switch side, about 9 in 10" in found.text


def test_causes_are_grouped_and_marked(client, page):
    """Causes stand by repair, in words, with a mark where the printed chart is blind."""
    assert "Most likely: buckle switch side, about 5 in 10." in page.text
    assert "not on the printed chart" in page.text
    assert "%" not in page.text.partition("For the analyst")[0]


def test_analysts_words_stay_with_the_analyst(client, page):
    """Words of the method stand only in the analyst's part, with findings too."""
    for found in (page, press(client, page, "Dark")):
        for word in METHOD:
            assert word not in found.text.partition("For the analyst")[0].lower()


def test_a_finding_says_what_it_moved(client, page):
    """The history names for and against what each finding speaks, and folded under each cause why."""
    found = press(client, chosen(client, page, "volts.C12-7.reminding"), "A voltage stands here")
    assert "Switch input of the belt unit: a voltage stands here Speaks" in found.text
    assert "Why" in found.text.partition("What it may be")[2]


def test_a_probable_slip_is_named(tmp_path):
    """Where a slip is to be expected, the page names the finding and what to check."""

    def slipping(*args: object, **options: object):
        return replace(fakes.decide(*args, **options), expected_slips=0.8)

    store = Store(str(tmp_path / "slips.sqlite"))
    client = create_app(fakes.engine(decide=slipping), store).test_client()
    found = press(client, chosen(client, opened(client), "volts.C12-7.reminding"), "Enter", reading="11.8")
    assert "This finding fits the others worst: Switch input of the belt unit; check its cavity" in found.text
    store.close()


def test_what_was_opened_on_the_way_is_noted(client, page):
    """Who measured under the seat has it open, with what it lies in; it can be closed again."""
    found = press(client, chosen(client, page, "volts.X31-1.reminding"), "Near zero")
    assert "Open now, so no time to open it again under the driver's seat" in found.text
    assert "Open now" not in press(client, found, "Closed again").text


def test_already_open_is_one_tap(client, page):
    """A place that stands open already costs no time to open."""
    found = press(client, chosen(client, page, "volts.X31-1.reminding"), "Already open")
    assert "Open now, so no time to open it again under the driver's seat" in found.text


def test_looking_opens_nothing(client, page):
    """Who only looked at a lamp is not sent behind it, and has nothing open afterwards."""
    found = chosen(client, page, LOOK)
    assert "Go to" not in found.text.partition("What it may be")[0]
    assert "Open now" not in press(client, found, "Lit").text


def test_minutes_and_money_are_reckoned(client, page):
    """Each answer adds what its step is reckoned with, in whole minutes and in fives; more is added by hand."""
    assert "Used: 0 min, 0 EUR, nothing authorised yet." in page.text
    done = press(client, chosen(client, page, LOOK), "Lit")
    assert "Used: 1 min, 0 EUR" in done.text
    more = press(
        client,
        press(client, done, "Add it", minutes="20", money="28"),
        "The customer agrees",
        minutes="90",
        whom="owner",
    )
    assert "Used: 21 of 90 min, 30 EUR." in more.text


def test_the_customer_is_asked(client, page):
    """With too little authorised the page asks with an estimate, and takes what the customer said."""
    asked = press(client, page, "The customer agrees", minutes="15", whom="owner, by phone")
    assert "Ask the customer before going on" in asked.text
    assert "Getting it fixed comes to 40 to 390 EUR, about 150 on average." in asked.text
    assert "Test next" in press(client, asked, "The customer agrees", minutes="60", whom="owner").text
    other = press(client, opened(client), "The customer agrees", minutes="15", whom="owner")
    declined = press(client, other, "The customer declines", work="a new buckle", whom="owner")
    assert "Declined: a new buckle, by owner" in declined.text


def test_stopping_and_what_is_not_proved_are_said(client, page):
    """The page says whether testing on can pay and what of a unit is not proved yet."""
    assert "Testing further would change what is repaired first in about 3 of 100 cases." in page.text
    assert "Not proved yet: belt reminder unit: feed at C12 cavity 1, wire GNRD." in page.text


def test_what_is_cleared_is_said(client, page):
    """A part that was a suspect and is none any more is proved good, and is not before."""
    assert "Proved good" not in page.text
    found = press(client, chosen(client, page, LOOK), "Lit")
    for test in ("volts.C12-1.reminding", "volts.C20-11.reminding", "jumper.C12-9-to-ground.reminding"):
        found = press(client, chosen(client, found, test), "Good")
    assert "Proved good:" in found.text
    assert "belt warning lamp" in found.text.partition("Proved good:")[2].partition(".")[0]


def test_a_repair_and_what_came_of_it(client, page):
    """What a repair did is noted; then every test may be answered again."""
    done = press(client, page, "The complaint stays")
    assert "Done: Replace fuse F8 and find why it opened; the complaint stays" in done.text
    gone = press(client, page_of(client, done), "The complaint is gone")
    assert "; the complaint is gone" in gone.text


def page_of(client, page):
    """Give the page of the same case anew."""
    return get(client, address(page))


def test_the_connector_can_be_mirrored(client, page):
    """The drawing can be turned to the contacts and back."""
    found = chosen(client, page, "volts.C12-7.reminding")
    turned = get(client, address(page) + found.link("Look at the contacts instead"))
    assert "looking at the contacts" in turned.text
    assert turned.link("Look at the wires instead") == "?pick=volts.C12-7.reminding"


def test_what_is_withheld_and_repairs_are_there(client, page):
    """Withheld tests with their reason, and repairs in order, stand on the page."""
    for words in ("Tests that are not proposed", "the jumper would carry 30 A", "Repairs, in the order to try them"):
        assert words in page.text


def test_a_later_release_is_told(client, tmp_path):
    """Where the advice comes from another release than the case began with, the page says so."""
    store = Store(str(tmp_path / "release.sqlite"))
    before = opened(create_app(fakes.engine(), store).test_client())
    later = fakes.engine(load=lambda _: replace(fakes.MODEL, priors="handbook-2"))
    assert "another is in force" not in before.text
    client = create_app(later, store).test_client()
    assert "another is in force" in get(client, address(before)).text
    changes = get(client, f"{address(before)}/release")
    assert "handbook-2" in changes.text
    moved = press(client, changes, "Go on under today's release")
    assert "another is in force" not in moved.text and "Goes on under the release" in moved.text
    assert "already" in get(client, f"{address(before)}/release").text
    store.close()


def test_findings_that_cannot_be_leave_the_case_readable(client, page):
    """What a program has entered and no advice can follow is told, and can be taken back."""
    told = {"kind": "finding", "body": {"test": "volts.C12-7.reminding", "value": 999.0, "unit": "V"}}
    client.post(f"/v1{address(page)}/events", json={"events": [told]}, headers={"If-Match": '"1"'})
    found = page_of(client, page)
    assert "No advice on these findings" in found.text
    assert "No fault gives this" in found.text
    assert "Test next" in press(client, found, "Undo last").text


def test_the_json_twin_is_linked(client, page):
    """The page names the address of the same case for programs."""
    twin = next(attrs["href"] for attrs in page.all("link") if attrs.get("rel") == "alternate")
    assert re.fullmatch(r"/v1/cases/[\w-]+", twin)
    assert client.get(twin).get_json()["version"] == 1
