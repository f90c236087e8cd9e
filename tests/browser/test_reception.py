"""Bad reception: a result that was entered is never lost and never doubled."""

import pytest
from browser.hand import hand


@pytest.fixture
def tech(browser, site):
    """Give a hand on a phone with an open case."""
    made = hand(browser, site)
    made.begin("Belt reminder lamp", "Belt lamp stays dark")
    yield made
    made.page.context.close()


def findings(tech) -> int:
    """Count the findings beside the complaint."""
    return len([event for event in tech.events() if event["kind"] == "finding"])


def enter(tech) -> None:
    """Tap the good answer without waiting for anything."""
    tech.page.locator(".dock button.good").click()


def test_a_result_waits_for_reception(tech):
    """Without reception the result is kept and said to be; with it, it goes out by itself, once."""
    before = tech.version()
    tech.page.context.set_offline(True)
    enter(tech)
    tech.page.wait_for_selector("#unsent:has-text('Not sent yet')")
    enter(tech)  # a second tap adds nothing
    tech.page.context.set_offline(False)
    tech.seen_after(before)
    assert findings(tech) == 1
    assert not tech.page.locator("#unsent").is_visible()


def test_an_answer_that_was_lost_on_the_way_back_is_not_doubled(tech):
    """The server has written it, the phone never hears of it and sends it again: it stands there once."""
    before, lost = tech.version(), []

    def lose(route) -> None:
        route.fetch(max_redirects=0)
        lost.append(route.request.post_data)
        route.abort()

    tech.page.route("**/answer", lose, times=2)
    enter(tech)
    tech.seen_after(before)
    assert findings(tech) == 1
    assert len(lost) == 2
    assert lost[0] == lost[1]


def test_a_page_that_was_closed_sends_when_the_next_one_opens(tech):
    """What was kept on the phone goes out from whatever page is opened next."""
    path = tech.page.url
    tech.page.context.set_offline(True)
    enter(tech)
    tech.page.wait_for_selector("#unsent:has-text('Not sent yet')")
    tech.page.close()
    tech.page.context.set_offline(False)
    tech.page = tech.page.context.new_page()
    tech.page.goto(tech.site)
    tech.page.wait_for_selector("#unsent:has-text('Sent now')")
    tech.page.goto(path)
    assert findings(tech) == 1


def test_a_server_that_cannot_write_is_asked_again(tech):
    """An answer of 503 is no acknowledgement."""
    before = tech.version()
    tech.page.route("**/answer", lambda route: route.fulfill(status=503, body="away"), times=1)
    enter(tech)
    tech.seen_after(before)
    assert findings(tech) == 1


def test_two_people_at_one_case(tech, browser, site):
    """The second is shown what the first has entered, and what was entered is kept until it is sent again."""
    other = hand(browser, site)
    other.page.goto(tech.page.url)
    tech.answer(0)
    enter(other)
    other.page.wait_for_selector("text=The case has changed meanwhile")
    assert findings(tech) == 1
    other.tap("Enter it all the same")
    other.page.wait_for_selector(".next")
    assert findings(tech) == 2
    other.page.context.close()
