"""The flows of a case in a real browser, at the width of a phone and of a desk, with script and without."""

import re
import time

import pytest
from browser.hand import DESK, PHONE, Hand, hand

# Circuits with a complaint, and which answer is given to three steps, from the bottom up.
FLOWS = {
    "Belt reminder lamp": ("Belt lamp stays dark", (0, 1, 0)),
    "Heater blower": ("The blower stands still at every speed", (1, 0, 0)),
    "Reversing lamps": ("Both reversing lamps stay dark", (0, 1, 0)),
    "Engine runs hot": ("The gauge climbs in traffic", (0, 1, 1)),
}
SIZES = {"390": PHONE, "1280": DESK}


@pytest.fixture(params=["390-script", "390-plain", "1280-script", "1280-plain"])
def tech(request, browser, site):
    """Give a hand at either width, with script or without."""
    size, _, kind = request.param.partition("-")
    made = hand(browser, site, SIZES[size], script=kind == "script")
    yield made
    made.page.context.close()


def kinds(tech: Hand) -> list[object]:
    """Give the kinds of the events that count, in order."""
    return [event["kind"] for event in tech.events() if not event["retracted"]]


def test_from_complaint_to_paper(tech):
    """Open, three results, undo, a reading, a repair, close, print: all of it is in the journal once."""
    tech.begin("Belt reminder lamp", "Belt lamp stays dark")
    for place in (0, 1, 0):
        tech.answer(place)
    assert kinds(tech).count("finding") == 3
    before = tech.version()
    tech.tap("Undo last")
    tech.seen_after(before)
    assert kinds(tech).count("finding") == 2
    page, before = tech.page, tech.version()
    page.locator("#reading").fill("0,05")
    tech.tap("Enter")
    tech.seen_after(before)
    assert kinds(tech).count("finding") == 3
    _repair(tech)
    tech.tap(page.get_by_role("link", name="Close the case"))
    page.get_by_label("Parts, one a line").fill("1 x contact; 2")
    tech.tap("Close the case")
    page.wait_for_selector("text=Print the write-up")
    tech.tap(page.get_by_role("link", name="Print the write-up"))
    page.wait_for_selector("text=Readings and steps")
    for words in ("1 × contact: 2.00 EUR", "the complaint is gone", "Proved good", "Together:"):
        assert words in page.locator("main").inner_text()


def test_a_timed_condition_is_counted_down(tech, request):
    """How long there is stands in the text; with script a button starts the time, and the next step goes on with it."""
    tech.begin("Belt reminder lamp", "Belt lamp stays dark")
    tech.pick("volts.C12-7.reminding")
    timer = tech.page.locator(".timer")
    assert "Cycle the key, wait 6 s: then you have 54 s." in timer.inner_text()
    if "plain" in request.node.name:
        assert timer.get_by_role("button").count() == 0
        return
    said = timer.get_by_role("timer")
    assert said.inner_text() == ""
    tech.tap("Start the time")
    assert re.fullmatch("Wait [1-6] s", said.inner_text())
    tech.page.evaluate("const now = Date.now; Date.now = () => now() + 20000")
    tech.page.wait_for_selector("text=/^(3[5-9]|40) s left$/")
    tech.page.evaluate("const then = Date.now; Date.now = () => then() + 50000")
    tech.page.wait_for_selector("text=Time is over: cycle the key again")


def _repair(tech: Hand) -> None:
    """Say of the first repair in the list, or of the one that is next, that the complaint is gone."""
    before, page = tech.version(), tech.page
    if not page.locator(".next").get_by_role("button", name="The complaint is gone").count():
        tech.tap(page.locator("summary", has_text="I have done this one"))
    tech.tap("The complaint is gone")
    tech.seen_after(before)
    assert kinds(tech).count("repair") == 1


def test_what_is_on_blocks_closing(tech):
    """A jumper stands on the closing page until it is ticked off."""
    tech.begin("Reversing lamps", "Both reversing lamps stay dark")
    tech.tap(tech.page.locator("summary", has_text="Something is jumped"))
    before = tech.version()
    tech.tap("Put it on the list")
    tech.seen_after(before)
    tech.tap(tech.page.get_by_role("link", name="Close the case"))
    tech.page.wait_for_selector("text=It cannot be closed yet")
    tech.tap("Put back")
    tech.page.wait_for_selector("text=Try the complaint again")
    assert tech.page.get_by_role("button", name="Close the case").is_visible()


def test_a_wrong_reading_is_kept(tech):
    """What cannot be read is shown again with what is wrong, and taken once it is right."""
    tech.begin("Reversing lamps", "Both reversing lamps stay dark")
    tech.pick("volts.X22-1.reverse")
    tech.page.locator("#reading").fill("1l.8")
    tech.tap("Enter")
    tech.page.wait_for_selector("text=Not written yet")
    assert tech.page.get_by_label("Reading").input_value() == "1l.8"
    tech.page.get_by_label("Reading").fill("11.8")
    tech.tap("Send it again")
    tech.page.wait_for_selector("text=11.8 V")


@pytest.mark.parametrize("circuit", FLOWS)
@pytest.mark.parametrize("size", SIZES)
def test_three_results_in_few_taps_and_nothing_moves(browser, site, circuit, size):
    """From home to three results: at most 12 taps and 60 s, one thumb, and no button moves between the steps."""
    tech, (complaint, answers) = hand(browser, site, SIZES[size]), FLOWS[circuit]
    began = time.monotonic()
    tech.begin(circuit, complaint)
    seen = [tech.places()]
    for place in answers:
        tech.answer(place)
        seen.append(tech.places())
    assert len([kind for kind in kinds(tech) if kind in ("finding", "repair")]) == 3
    assert tech.taps <= 12
    assert time.monotonic() - began <= 60
    _stand_still(seen)
    if size == "390":  # a thumb reaches the lower two thirds
        assert min(bottom for places in seen for name, (_, bottom, _) in places.items() if name != "undo") > 844 / 3
    tech.page.context.close()


def _stand_still(seen: list[dict[str, tuple[int, int, int]]]) -> None:
    """Check that whatever stands on several screens stands at the same place of each."""
    for name in {name for places in seen for name in places}:
        assert len({places[name] for places in seen if name in places}) == 1, (name, seen)
    assert all("undo" in places for places in seen)


def test_buttons_are_large(browser, site):
    """Every button and link of the step is at least 48 px high, and nothing is wider than the phone."""
    tech = hand(browser, site)
    tech.begin("Belt reminder lamp", "Belt lamp stays dark")
    tech.answer(0)
    sizes = tech.page.evaluate(
        "[...document.querySelectorAll('main button, .top button, main a, summary, select, main input')]"
        ".filter(e => e.offsetParent && !e.closest('.keypad, .analyst'))"
        ".map(e => [e.textContent.trim().slice(0, 30), e.getBoundingClientRect().height])"
    )
    assert [row for row in sizes if row[1] < 48] == []
    assert tech.page.evaluate("document.documentElement.scrollWidth") <= 390
    tech.page.context.close()


def test_the_keypad_types(browser, site):
    """On a phone the page's own keypad comes up with a minus, moves no answer, and its reading is taken."""
    tech = hand(browser, site)
    tech.begin("Reversing lamps", "Both reversing lamps stay dark")
    tech.pick("volts.X22-1.reverse")
    before = tech.places()
    tech.page.locator("#reading").tap()
    for key in ("−", "0", ",", "0", "5", "delete the last digit", "4"):
        tech.page.locator(".keypad").get_by_role("button", name=key, exact=True).tap()
    assert tech.page.locator("#reading").input_value() == "−0,04"
    assert tech.places() == before
    version = tech.version()
    tech.tap("Enter")
    tech.seen_after(version)
    assert "−0.04 V" in tech.page.locator("main").inner_text()
    tech.page.context.close()


def test_the_write_up_is_a4(browser, site):
    """The printed write-up has the size of A4 and nothing of the page's own controls."""
    tech = hand(browser, site, DESK)
    tech.begin("Reversing lamps", "Both reversing lamps stay dark")
    tech.tap(tech.page.get_by_role("link", name="Write-up for paper"))
    tech.page.wait_for_selector("text=Readings and steps")
    pdf = tech.page.pdf(prefer_css_page_size=True)
    width, height = map(float, re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf).groups())
    assert (width, height) == pytest.approx((595.3, 841.9), abs=1.0)  # ISO 216: 210 by 297 mm, at 72 points an inch
    tech.page.emulate_media(media="print")
    assert not tech.page.locator(".top").is_visible()
    tech.page.context.close()
