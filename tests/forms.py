"""The pages as tests read them: tags, words, links, and forms that are filled in and sent as a browser does."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = ("input", "meta", "link")


@dataclass
class Form:
    """A form: where it goes, what it sends unchanged, its buttons with their words."""

    action: str
    method: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    buttons: list[tuple[str, str, str]] = field(default_factory=list)

    def filled(self, **change: str) -> list[tuple[str, str]]:
        """Give the fields with some filled in; a name with a hyphen is written with an underscore."""
        wanted = {name.replace("_", "-"): value for name, value in change.items()}
        assert set(wanted) <= {name for name, _ in self.fields}, (wanted, self.fields)
        return [(name, wanted.get(name, value)) for name, value in self.fields]


class Page(HTMLParser):
    """The tags of a page, its visible text and its forms."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.source = source
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self.forms: list[Form] = []
        self.links: list[tuple[str, str]] = []
        self._open: list[str] = []
        self._first = False  # option of a select, which is sent where none is selected
        self.feed(source)

    def handle_starttag(self, tag, attrs):
        """Note a tag, and what it means in a form."""
        found = {name: value or "" for name, value in attrs}
        self.tags.append((tag, found))
        if tag not in VOID:
            self._open.append(tag)
        if tag == "form":
            self.forms.append(Form(found.get("action", ""), found.get("method", "get")))
        elif tag == "a":
            self.links.append((found.get("href", ""), ""))
        elif tag == "input":
            self.forms[-1].fields.append((found["name"], found.get("value", "")))
        elif tag in ("textarea", "select"):
            self.forms[-1].fields.append((found["name"], ""))
            self._first = True
        elif tag == "option" and ("selected" in found or self._first):
            self.forms[-1].fields[-1] = (self.forms[-1].fields[-1][0], found["value"])
            self._first = False
        elif tag == "button" and "form" in self._open:
            self.forms[-1].buttons.append((found.get("name", ""), found.get("value", ""), ""))

    def handle_endtag(self, tag):
        """Leave a tag."""
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data):
        """Note a text where it belongs."""
        self.words.append(data)
        if "textarea" in self._open:
            name, before = self.forms[-1].fields[-1]
            self.forms[-1].fields[-1] = (name, before + data)
        elif "button" in self._open and "form" in self._open:
            name, value, before = self.forms[-1].buttons[-1]
            self.forms[-1].buttons[-1] = (name, value, before + data)
        elif "a" in self._open:
            href, before = self.links[-1]
            self.links[-1] = (href, before + data)

    def all(self, tag: str) -> list[dict[str, str]]:
        """Give the attributes of every tag of a name."""
        return [attrs for name, attrs in self.tags if name == tag]

    @property
    def text(self) -> str:
        """The visible text in one line."""
        return _line(" ".join(self.words))

    def link(self, words: str) -> str:
        """Give the address behind the first link that holds some words."""
        found = [href for href, text in self.links if words in _line(text)]
        assert found, (words, self.links)
        return found[0]

    def form(self, words: str) -> tuple[Form, tuple[str, str]]:
        """Give the first form with a button that holds some words, and what the button sends."""
        for form in self.forms:
            for name, value, text in form.buttons:
                if words in _line(text):
                    return form, (name, value)
        raise AssertionError((words, [button for form in self.forms for button in form.buttons]))


def _line(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


def get(client, path: str, status: int = 200) -> Page:
    """Get a page and check what every page has."""
    return checked(client.get(path), status)


def checked(response, status: int = 200) -> Page:
    """Read a page that was answered and check what every page has."""
    source = response.get_data(as_text=True)
    assert response.status_code == status, source[:2000]
    assert response.mimetype == "text/html"
    found = Page(source)
    assert [attrs.get("src") for attrs in found.all("script")] == ["/static/case.js"]
    assert not [attrs for _, attrs in found.tags if any(name.startswith("on") or name == "style" for name in attrs)]
    assert [attrs for attrs in found.all("html") if attrs["lang"] == "en"]
    assert len(found.all("h1")) == 1
    ids = [attrs["id"] for _, attrs in found.tags if "id" in attrs]
    assert len(ids) == len(set(ids)), sorted(ids)
    labelled = {attrs["for"] for attrs in found.all("label")}
    seen = [a for tag in ("input", "select", "textarea") for a in found.all(tag) if a.get("type") != "hidden"]
    assert {attrs["id"] for attrs in seen} == labelled
    return found


def send(client, page: Page, button: str, /, **change: str):
    """Press the first button that holds a text, with some fields filled in, and give the bare response."""
    form, pressed = page.form(button)
    fields = form.filled(**change) + ([pressed] if pressed[0] else [])
    data: dict[str, list[str]] = {}
    for name, value in fields:
        data.setdefault(name, []).append(value)
    return client.post(form.action, data=data)


def press(client, page: Page, button: str, /, **change: str) -> Page:
    """Press a button as `send` does, and give the page that the write leads to."""
    response = send(client, page, button, **change)
    assert response.status_code == 303, response.get_data(as_text=True)[:2000]
    return get(client, response.headers["Location"])


def opened(client, complaint: str = "stays dark", circuit: str = "belt-reminder") -> Page:
    """Open a case by its complaint and give its page."""
    return press(client, get(client, f"/circuit/{circuit}"), complaint)
