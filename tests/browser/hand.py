"""A technician's hand on a page: what it taps, how often, and where the buttons stand."""

from __future__ import annotations

from dataclasses import dataclass, field

from playwright.sync_api import Browser, Locator, Page

PHONE, DESK = (390, 844), (1280, 800)
Places = dict[str, tuple[int, int, int]]


@dataclass
class Hand:
    """A page with a count of taps."""

    page: Page
    site: str
    taps: int = 0
    titles: list[str] = field(default_factory=list)

    def tap(self, target: str | Locator) -> None:
        """Tap what is called so, or is it, and wait until the page is there that it leads to."""
        found = self.page.get_by_role("button", name=target) if isinstance(target, str) else target
        found.first.click()
        self.taps += 1
        self.page.wait_for_load_state()

    def begin(self, circuit: str, complaint: str) -> None:
        """Open a case from the home page."""
        self.page.goto(self.site)
        self.tap(self.page.get_by_role("link", name=circuit, exact=True))
        self.tap(complaint)
        self.page.wait_for_selector(".next")

    def pick(self, test: str) -> None:
        """Choose another test than the one that is proposed."""
        self.page.goto(f"{self.page.url.partition('?')[0]}?pick={test}")
        self.page.wait_for_selector("#reading")

    def answer(self, place: int) -> None:
        """Give the answer of the step that stands at a place from the bottom up, the good one being 0."""
        before = self.version()
        answers = self.page.locator(".dock button.answer")
        self.titles.append(self.page.locator("#next-title").inner_text())
        self.tap(answers.nth(answers.count() - 1 - place))
        self.seen_after(before)

    def seen_after(self, before: str) -> None:
        """Wait until the page shows a later version of the case."""
        self.page.wait_for_selector(f".top input[name=seen]:not([value='{before}'])", state="attached")

    def version(self) -> str:
        """Tell the version of the case that the page shows; "1" where there is nothing to undo yet."""
        seen = self.page.locator("input[name=seen]").first
        return seen.get_attribute("value") or ""

    def events(self) -> list[dict[str, object]]:
        """Give the journal of the case as the server has it."""
        path = self.page.locator("link[rel=alternate]").get_attribute("href")
        events: list[dict[str, object]] = self.page.request.get(f"{self.site}{path}").json()["events"]
        return events

    def places(self) -> Places:
        """Tell where each result button and undo stand [px]: left, bottom and width, results from the bottom up."""
        self.page.evaluate("scrollTo(0, 0)")
        answers = self.page.locator(".dock button.answer")
        named = {f"answer {answers.count() - 1 - place}": answers.nth(place) for place in range(answers.count())}
        for words in ("Jumps about", "Can't reach", "Not sure", "Started working"):
            found = self.page.locator(".dock").get_by_role("button", name=words)
            named |= {words: found.first} if found.count() else {}
        named["undo"] = self.page.locator(".top .undo")
        boxes = {name: found.bounding_box() for name, found in named.items()}
        return {
            name: (round(box["x"]), round(box["y"] + box["height"]), round(box["width"]))
            for name, box in boxes.items()
            if box
        }


def hand(browser: Browser, site: str, size: tuple[int, int] = PHONE, *, script: bool = True) -> Hand:
    """Open a page of its own in a browser: touched on a phone."""
    width, height = size
    context = browser.new_context(
        viewport={"width": width, "height": height},
        has_touch=size == PHONE,
        java_script_enabled=script,
    )
    context.set_default_timeout(15_000)
    return Hand(context.new_page(), site)
