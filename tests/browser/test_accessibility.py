"""axe-core finds nothing on any page, in both colour schemes, at the width of a phone and of a desk.

Rules: https://github.com/dequelabs/axe-core/blob/develop/doc/rule-descriptions.md
"""

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.hand import DESK, PHONE, Hand, hand

OPTIONS = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
}
# The dock lies over whatever is scrolled under it, which axe takes for targets that are cut off: it stands still here.
# Everything is unfolded; of long lists the first three rows stay, the others being built alike.
UNFOLD = """() => {
    document.querySelectorAll('details').forEach(each => { each.open = true; });
    document.querySelectorAll('.dock').forEach(each => { each.style.position = 'static'; });
    document.querySelectorAll('li:nth-child(n + 4), tbody tr:nth-child(n + 4)').forEach(each => each.remove());
}"""


@pytest.fixture(params=[PHONE, DESK], ids=["390", "1280"])
def tech(request, browser, site):
    """Give a hand at either width."""
    made = hand(browser, site, request.param)
    yield made
    made.page.context.close()


def look(tech: Hand) -> None:
    """Hold the page against the rules in both colour schemes."""
    tech.page.evaluate(UNFOLD)
    for scheme in ("light", "dark"):
        tech.page.emulate_media(color_scheme=scheme)
        found = Axe().run(tech.page, options=OPTIONS)
        wrong = [(row["id"], [node["html"] for node in row["nodes"]]) for row in found.response["violations"]]
        assert wrong == [], (tech.page.url, scheme)


def test_opening(tech):
    """Home, the complaints, and the page of an address that there is not."""
    tech.page.goto(tech.site)
    look(tech)
    tech.page.goto(f"{tech.site}/circuit/belt-reminder")
    look(tech)
    tech.page.goto(f"{tech.site}/cases/nope")
    look(tech)


def test_an_open_case(tech):
    """The step of a look and of a reading, a repair, the stop to ask, what is on and what is not fit."""
    tech.begin("Belt reminder lamp", "Belt lamp stays dark")
    look(tech)
    tech.answer(0)
    look(tech)
    api(tech, "put-on", id="jumper-1", what="jumper")
    api(tech, "not-fit", until="the belt lamp works")
    api(tech, "authorised", minutes=1, whom="owner")
    look(tech)
    tech.page.goto(f"{case(tech)}/close")
    look(tech)


def test_a_repair(tech):
    """A case whose next step is a repair."""
    tech.begin("Engine runs hot", "The gauge climbs in traffic")
    for place in (0, 1):
        tech.answer(place)
    tech.page.wait_for_selector("text=Repair next")
    look(tech)


def test_a_form_that_was_not_taken(tech):
    """The page that keeps what was entered."""
    tech.begin("Reversing lamps", "Both reversing lamps stay dark")
    tech.pick("volts.X22-1.reverse")
    tech.page.locator("#reading").fill("x")
    tech.tap("Enter")
    tech.page.wait_for_selector("text=Not written yet")
    look(tech)


def test_closing(tech):
    """The closing form, the closed case, the write-up."""
    tech.begin("Reversing lamps", "Both reversing lamps stay dark")
    tech.page.goto(f"{tech.page.url}/close")
    look(tech)
    for label, words in (("Cause", "switch"), ("Correction", "new switch")):
        tech.page.get_by_label(label, exact=True).fill(words)
    tech.tap("Close the case")
    tech.page.wait_for_selector("text=Print the write-up")
    look(tech)
    tech.tap(tech.page.get_by_role("link", name="Print the write-up"))
    tech.page.wait_for_selector("text=Readings and steps")
    look(tech)


def case(tech: Hand) -> str:
    """Give the address of the case that the page shows."""
    return tech.page.url.partition("?")[0].partition("/close")[0]


def api(tech: Hand, kind: str, **body: object) -> None:
    """Add an event as a program does, and show the case again."""
    address = f"{tech.site}/v1{case(tech).removeprefix(tech.site)}"
    version = tech.page.request.get(address).headers["etag"]
    event = {"kind": kind, "body": body}
    added = tech.page.request.post(f"{address}/events", data={"events": [event]}, headers={"If-Match": version})
    assert added.ok, added.text()
    tech.page.goto(case(tech))
