"""The pages: they work without script, keep their state in the address, and never break."""

import html
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import fakes
import pytest

from api.app import create_app

CASE = "/circuit/belt-reminder/case?symptom=lamp-stays-dark"
VOLTS = f"{CASE}&pick=volts.C12-7.reminding"


class Page(HTMLParser):
    """The tags of a page, and its visible text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        """Note a text."""
        self.words.append(data)

    def all(self, tag: str) -> list[dict[str, str]]:
        """Give the attributes of every tag of a name."""
        return [attrs for name, attrs in self.tags if name == tag]

    @property
    def text(self) -> str:
        """The visible text in one line."""
        return re.sub(r"\s+", " ", " ".join(self.words))

    def link(self, words: str, source: str) -> str:
        """Give the address behind a link whose text starts with some words."""
        found = re.search(
            rf'<a[^>]*href="([^"]+)"[^>]*>\s*(?:<span[^>]*>[^<]*</span>\s*)*(?:<span[^>]*>)?{words}', source
        )
        assert found, words
        return html.unescape(found[1])


def page(client, path: str, status: int = 200) -> tuple[Page, str]:
    """Get a page and check what every page has."""
    response = client.get(path)
    source = response.get_data(as_text=True)
    assert response.status_code == status, source[:300]
    assert response.mimetype == "text/html"
    found = Page(source)
    assert not found.all("script")
    assert not [attrs for _, attrs in found.tags if any(name.startswith("on") or name == "style" for name in attrs)]
    assert [attrs for attrs in found.all("html") if attrs["lang"] == "en"]
    assert len(found.all("h1")) == 1
    return found, source


@pytest.mark.parametrize(
    "path", ["/", "/circuit/belt-reminder", CASE, VOLTS, "/circuit/belt-reminder/case", "/problems/not-json"]
)
def test_every_page_labels_its_inputs(client, path):
    """Each visible input has a label, each id stands once."""
    found, _ = page(client, path)
    ids = [attrs["id"] for _, attrs in found.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    labelled = {attrs["for"] for attrs in found.all("label")}
    assert {attrs["id"] for attrs in found.all("input") if attrs.get("type") != "hidden"} == labelled


def test_from_circuit_to_case(client):
    """The list leads to a circuit, the circuit to a case with its symptom."""
    found, source = page(client, "/")
    _, source = page(client, "/circuit/belt-reminder")
    assert '/circuit/belt-reminder/case?symptom=lamp-stays-dark"' in source
    assert "/circuit/other-lamp" in [attrs.get("href") for attrs in found.all("a")]


def test_the_next_step_comes_first(client):
    """The step card stands before the causes, with set-up, place, leads and good and bad in volts."""
    found, source = page(client, VOLTS)
    assert source.index('class="next"') < source.index("What it may be")
    for words in ("Set up", "Behind the knee panel", "C12 cavity 7, wire GNWH", "battery negative post", "below 0.3 V"):
        assert words in found.text
    assert source.index("Good") < source.index("Bad")
    assert 'inputmode="decimal"' in source


def test_cautions_stand_before_the_place(client):
    """Safety is read before anything is opened."""
    found, _ = page(client, f"{CASE}&pick=volts.X31-1.reminding")
    assert found.text.index("Restraint parts are close by") < found.text.index("Go to")
    assert "vehicle maker's procedure, local codes and licensed practice come first" in found.text


def test_causes_are_grouped_and_marked(client):
    """Causes stand by repair, in words, with a mark where the printed chart is blind."""
    found, _ = page(client, CASE)
    assert "Most likely: buckle switch side, about 5 in 10." in found.text
    assert "not on the printed chart" in found.text
    assert "%" not in found.text.partition("For the analyst")[0]


def test_analysts_words_stay_with_the_analyst(client):
    """Words of the method stand only in the analyst's part."""
    found, _ = page(client, VOLTS)
    for word in ("posterior", "hypothes", "node", "deciban", "prior "):
        assert word not in found.text.partition("For the analyst")[0].lower()


def test_causes_say_why_in_words(client):
    """Under a cause stands folded what it would show and what was found, and beside it what to check again."""
    found, source = page(client, f"{CASE}&r=volts.C12-7.reminding~11.8")
    assert "<details" in source.partition("What it may be")[2].partition("Why")[0]
    assert "Speaks for it: Switch input of the belt unit: with this fault 12.6 V are predicted here" in found.text
    assert "you read 11.8 V; in the sound circuit 0.01 V" in found.text
    for word in ("posterior", "hypothes", "node", "deciban", "prior "):
        assert word not in found.text.partition("For the analyst")[0].lower()
    assert "fits the others worst" not in found.text


def test_a_probable_slip_is_named():
    """Where a slip is to be expected, the page names the finding and what to check."""

    def slipping(*args: object, **options: object):
        return replace(fakes.decide(*args, **options), expected_slips=0.8)

    found, _ = page(create_app(fakes.engine(decide=slipping)).test_client(), f"{CASE}&r=volts.C12-7.reminding~11.8")
    assert "This finding fits the others worst: Switch input of the belt unit; check its cavity" in found.text


def test_an_answer_changes_the_ranking_and_can_be_undone(client):
    """An outcome's link leads to the next state; undo leads back to the same address."""
    first, source = page(client, CASE)
    answered = first.link("Lit", source)
    assert "t=look.belt-lamp.prove-out~lit" in answered
    second, source = page(client, answered)
    assert "Look at the belt lamp at key-on: lit" in second.text
    assert second.link("Undo last", source) == CASE
    assert second.link("Remove", source) != answered


def test_answering_at_a_place_notes_it_as_open(client):
    """Who measured behind a panel has it open; the next test there is cheaper."""
    found, source = page(client, f"{CASE}&pick=volts.X31-1.reminding")
    assert "open=under-seat" in found.link("Near zero", source)


def test_looking_opens_nothing(client):
    """Who only looked at a lamp is not sent behind it, and has nothing open afterwards."""
    found, source = page(client, f"{CASE}&pick=look.belt-lamp.prove-out")
    assert "open=" not in found.link("Lit", source)
    assert "Go to" not in found.text.partition("What it may be")[0]


def test_a_reading_is_sent_by_form(client):
    """The form's reading, with a comma, becomes part of the address by a redirect."""
    response = client.get(f"{CASE}&reading-of=volts.C12-7.reminding&reading=11,8")
    assert response.status_code == 303
    found, _ = page(client, response.headers["Location"])
    assert "Switch input of the belt unit: 11.8 V" in found.text
    assert "Open now" in found.text


@pytest.mark.parametrize("reading", ["abc", "nan", "999", "1e9"])
def test_a_wrong_reading_has_a_way_back(client, reading):
    """A reading that is none, or that no fault gives, leads back to the case without it."""
    found, source = page(client, f"{CASE}&reading-of=volts.C12-7.reminding&reading={reading}", 422)
    assert found.link("Back to the case", source) == CASE


def test_skipping_is_no_evidence(client):
    """A test that cannot be done is left out of the proposals and changes no share."""
    found, source = page(client, CASE)
    skipped, after = page(client, found.link("Not sure", source))
    assert "skip=look.belt-lamp.prove-out" in after
    assert skipped.text.count("Look at the belt lamp at key-on") == 2  # listed once with its link
    bars = re.compile(r'class="fill" width="([^"]+)"')
    assert bars.findall(source) == bars.findall(after)


def test_skipping_everything_leaves_a_repair(client):
    """When every test is skipped the best repair comes first."""
    skips = "".join(f"&skip={test}" for test in fakes.MODEL.tests)
    found, _ = page(client, CASE + skips)
    assert "Repair next" in found.text


def test_what_came_of_a_repair_is_noted(client):
    """A repair is answered with what became of the complaint; then every test may be answered again."""
    skips = "".join(f"&skip={test}" for test in fakes.MODEL.tests)
    found, source = page(client, CASE + skips)
    done, after = page(client, found.link("Done: it stays", source))
    assert "; the complaint stays" in done.text
    back, _ = page(client, done.link("Undo", after))
    assert "; the complaint stays" not in back.text


def test_the_connector_can_be_mirrored(client):
    """The drawing can be turned to the contacts and back."""
    found, source = page(client, VOLTS)
    turned, after = page(client, found.link("Look at the contacts instead", source))
    assert "looking at the contacts" in turned.text
    assert turned.link("Look at the wires instead", after) == VOLTS


@pytest.mark.parametrize(
    "query",
    [
        "t=nope~lit",
        "t=x",
        "symptom=nope",
        "symptom=lamp-stays-dark&symptom=lamp-stays-dark",
        "open=nope",
        "years=99",
        "odd=1",
        "t=%ff",
    ],
)
def test_a_wrong_address_gets_a_page_with_a_way_back(client, query):
    """A wrong part of the address is told on a page, and the way back works."""
    found, source = page(client, f"/circuit/belt-reminder/case?{query}", 422)
    page(client, found.link("Back to the case", source))


@pytest.mark.parametrize("path", ["/circuit/nope", "/circuit/nope/case", "/nope", "/problems/nope"])
def test_unknown_addresses_are_404_pages(client, path):
    """An unknown circuit or page is a page that says so."""
    found, _ = page(client, path, 404)
    assert "Nothing has this address" in found.text


def test_what_is_sent_is_never_markup(client):
    """Text of the address is shown as text."""
    _, source = page(client, "/circuit/belt-reminder/case?symptom=<script>alert(1)</script>", 422)
    assert "<script>" not in source


def test_the_json_twin_is_the_same_answer(client):
    """The page links its JSON twin, which equals what the API answers to the request shown."""
    found, source = page(client, f"{CASE}&t=look.belt-lamp.prove-out~lit&years=9")
    twin = next(attrs["href"] for attrs in found.all("link") if attrs.get("rel") == "alternate")
    sent = json.loads(re.search(r"-d '(.*)'", html.unescape(source))[1])
    assert client.get(twin).get_json() == client.post("/v1/advice", json=sent).get_json()
    assert client.get("/circuit/belt-reminder/case.json?t=x").get_json()["type"] == "/problems/invalid-request"


def test_a_picture_of_every_kind_of_advice(client):
    """Withheld tests, repairs and settings are on the page."""
    found, _ = page(client, CASE)
    for words in (
        "Tests that are not proposed",
        "the jumper would carry 30 A",
        "Repairs, in the order to try them",
        "Vehicle and prices",
    ):
        assert words in found.text


def test_the_customer_is_asked(client):
    """With too little authorised the page asks, and keeps what was typed in its form."""
    found, source = page(client, f"{CASE}&authorised-minutes=30&spent-minutes=15")
    assert "Ask the customer before going on" in found.text
    assert "Getting it fixed comes to 40 to 390 EUR, about 150 on average." in found.text
    assert 'name="authorised-minutes" value="30"' in source
    assert "Used of what is authorised: 15 of 30 min." in found.text
    assert "Used of what is authorised" not in page(client, CASE)[0].text
    assert "Ask the customer" not in page(client, f"{CASE}&authorised-minutes=60&spent-minutes=15")[0].text
    assert page(client, f"{CASE}&authorised=lots", 422)


def test_stopping_and_what_is_not_proved_are_said(client):
    """The page says whether testing on can pay and what of a unit is not proved yet."""
    found, _ = page(client, CASE)
    assert "Testing further would change what is repaired first in about 3 of 100 cases." in found.text
    assert "Not proved yet: belt reminder unit: feed at C12 cavity 1, wire GNRD." in found.text
