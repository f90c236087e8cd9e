"""Home, complaint and error pages: opening a case, finding one again."""

import pytest
from forms import checked, get, opened, press, send

from api.case_fields import FIELDS, FORMS


@pytest.mark.parametrize("path", ["/", "/circuit/belt-reminder", "/problems/not-json", "/?state=any&reference=x"])
def test_every_page_is_sound(client, path):
    """Each page has one heading, labels for its inputs, ids that stand once, and no script or style of its own."""
    assert get(client, path).text


def test_a_case_is_open_after_three_taps(client):
    """Home leads to a circuit, the complaint opens the case, which then shows its next step."""
    complaint = get(client, get(client, "/").link("Belt reminder"))
    page = press(client, complaint, "Belt lamp stays dark")
    assert page.text.index("Test next") < page.text.index("What it may be")
    assert get(client, "/").link("Belt reminder lamp").startswith("/")
    assert len([href for href, _ in get(client, "/").links if href.startswith("/cases/")]) == 1


def test_details_may_come_first(client):
    """What the counter knows is kept with the case from its opening on; numbers may have a comma."""
    page = press(
        client,
        get(client, "/circuit/belt-reminder"),
        "stays dark",
        words="dark since the rain",
        reference="W-17",
        years="9,5",
        odometer="212000",
        labour="100",
    )
    for words in ("The customer said: “dark since the rain”",):
        assert words in page.text
    form, _ = page.form("Keep these")
    assert dict(form.fields) | {"years": "9.5", "reference": "W-17", "odometer": "212000"} == dict(form.fields)
    assert "W-17" in get(client, "/").text


def test_a_case_without_a_complaint(client):
    """Advice may start before the complaint is known; it is asked for on the page."""
    page = press(client, get(client, "/circuit/belt-reminder"), "Not sure yet")
    assert "no complaint noted yet" in page.text
    told = press(client, page, "Yes: belt lamp stays dark")
    assert "Reported: belt lamp stays dark" in told.text
    assert "Not the case: belt lamp stays on" in press(client, told, "No: belt lamp stays on").text


@pytest.mark.parametrize(("change", "label"), [({"years": "old"}, "Age in years"), ({"odometer": "-3"}, "Odometer")])
def test_a_wrong_detail_keeps_what_was_entered(client, change, label):
    """Nothing is opened, the field is named, all else stands there to be sent again."""
    response = send(client, get(client, "/circuit/belt-reminder"), "stays dark", words="dark, she says", **change)
    page = checked(response, 422)
    assert label in page.text
    assert "dark, she says" in dict(page.form("Send it again")[0].fields)["words"]
    assert "None." in get(client, "/").text
    done = press(client, page, "Send it again", **dict.fromkeys(change, "3"))
    assert "dark, she says" in done.text


def test_lists_are_filtered(client):
    """Open cases are listed at first; state, circuit, reference and day choose others."""
    open_case = opened(client)
    press(client, get(client, "/circuit/belt-reminder"), "stays on", reference="W-18")
    assert len(cases(client, "/")) == 2
    assert len(cases(client, "/?reference=W-18")) == 1
    assert cases(client, "/?state=closed") == []
    assert cases(client, "/?circuit=other-lamp") == []
    assert len(cases(client, "/?state=any&since=2020-01-01")) == 2
    assert cases(client, "/?since=2999-01-01") == []
    assert open_case.text
    get(client, "/?since=yesterday", 422)


def test_a_long_list_goes_on(client):
    """Twenty cases stand on a page; the link leads to the older ones."""
    for _ in range(21):
        client.post("/v1/cases", json={"circuit": "belt-reminder"})
    first = get(client, "/")
    assert len(cases(client, "/")) == 20
    assert len(cases(client, first.link("Older cases"))) == 1


def cases(client, path: str) -> list[str]:
    """Give the cases that a page links."""
    return [href for href, _ in get(client, path).links if href.startswith("/cases/")]


@pytest.mark.parametrize(
    "path", ["/circuit/nope", "/cases/nope", "/cases/nope/close", "/cases/nope/print", "/nope", "/problems/nope"]
)
def test_unknown_addresses_are_404_pages(client, path):
    """An unknown circuit, case or page is a page that says so."""
    assert "404" not in get(client, path, 404).text


def test_another_shops_or_no_case_takes_no_form(client):
    """A form for a case that is not there, or an action that there is not, is 404 and writes nothing."""
    form = {"nonce": "n" * 20, "seen": "1", "text": "x"}
    assert client.post("/cases/nope/note", data=form).status_code == 404
    address = cases_of_one(client)
    assert client.post(f"{address}/nope", data=form).status_code == 404


def cases_of_one(client) -> str:
    """Open a case and give its address."""
    opened(client)
    return cases(client, "/")[0]


def test_every_field_of_a_form_is_described():
    """Each form's fields have a row in the table of fields."""
    assert {name for names in FORMS.values() for name in names} <= set(FIELDS)
