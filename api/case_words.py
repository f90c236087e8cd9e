"""What happened in a case, in words: every kind of event, with the titles that the circuit gives."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from advisor.contract.answer import AdviceAnswer
from advisor.contract.case_answer import EventOut
from advisor.contract.engine import KnownModel
from advisor.contract.reasons import PROVED
from advisor.contract.wording import node_title, place_title
from api import words

WHAT = {"jumper": "jumper", "fuse-pulled": "fuse pulled", "unplugged": "unplugged", "bypass": "bypass"}
UNITS = {"ohm": "Ω", "kohm": "kΩ", "Mohm": "MΩ"}
Body = Mapping[str, Any]  # the body of an event: its keys are those of its kind


@dataclass(frozen=True)
class Names:
    """Titles of a case's circuit; an id stands for itself where the circuit is not on the shelf any more."""

    model: KnownModel | None
    repairs: Mapping[str, str] = field(default_factory=dict)
    currency: str = ""

    @property
    def circuit(self) -> str:
        """The circuit's title."""
        return self.model.schematic.title if self.model else "this circuit"

    def test(self, test: str) -> str:
        """Name a test."""
        known = self.model.tests.get(test) if self.model else None
        return known.title if known else test

    def outcome(self, test: str, outcome: str) -> str:
        """Name an outcome of a test."""
        known = self.model.tests.get(test) if self.model else None
        return next((item.label for item in known.outcomes if item.id == outcome), outcome) if known else outcome

    def symptom(self, symptom: str) -> str:
        """Name a symptom."""
        known = self.model.schematic.symptoms.get(symptom) if self.model else None
        return known.title if known else symptom

    def place(self, place: str) -> str:
        """Name a place."""
        return place_title(self.model.schematic, place) if self.model else place

    def node(self, node: str) -> str:
        """Name a point of the circuit."""
        return node_title(self.model.schematic, node) if self.model else node

    def repair(self, repair: str) -> str:
        """Name a repair."""
        return self.repairs.get(repair, repair)

    def piece(self, body: Body) -> str:
        """Name something that is on the vehicle."""
        connectors = self.model.schematic.connectors if self.model else {}
        name = connectors[body["id"]].title if body["id"] in connectors else body["id"]
        where = " to ".join(self.node(end) for end in body["where"].split(" to ")) if body.get("where") else ""
        what, called = WHAT[body["what"]], where or name
        return what if called.split()[0] == body["what"] else f"{what}: {called}"

    def subject(self, event: EventOut) -> str:
        """Name what an event is about, without what came of it."""
        body: Body = event.body
        if "test" in body:
            return self.test(body["test"])
        return self.repair(body["repair"]) if "repair" in body else said(event, self)


def names_of(model: KnownModel | None, answers: Iterable[AdviceAnswer], currency: str = "") -> Names:
    """Give the names of a circuit, and of the repairs that some advice on it has named."""
    return Names(model, {row.repair: row.title for answer in answers for row in answer.repairs}, currency)


def said(event: EventOut, names: Names) -> str:
    """Say what an event says."""
    return said_of(event.kind, event.body, names)


def said_of(kind: str, body: Body, names: Names) -> str:
    """Say what an event of a kind says."""
    return _SAID[kind](body, names)


def _finding(body: Body, names: Names) -> str:
    if "symptom" in body and "test" not in body:
        title = names.symptom(body["symptom"])
        said = {None: "", True: ", comes and goes", False: ", always"}[body.get("comes_and_goes")]
        return f"Reported: {title}{said}" if body.get("present", True) else f"Not the case: {title}"
    if "repair" in body:
        return _repair(body, names)
    title = names.test(body["test"]).rstrip("?")
    if "outcome" in body:
        return f"{title}: {names.outcome(body['test'], body['outcome'])}"
    if body.get("kind") == "declined":
        return f"Left out: {title}"
    read = body.get("reading", body)
    if read.get("over_range"):
        return f"{title}: over range"
    unit = read.get("unit") or _unit(body["test"], names)
    return f"{title}: {words.number(read['value'])} {UNITS.get(unit, unit)}"


def _unit(test: str, names: Names) -> str:
    known = names.model.tests.get(test) if names.model else None
    return known.unit if known else ""


def _repair(body: Body, names: Names) -> str:
    result = PROVED.get(body.get("result", ""), "the complaint was not looked for")
    return f"Done: {names.repair(body['repair'])}; {result}"


def amount(body: Body, currency: str) -> str:
    """Say minutes and money, as far as they are said."""
    told = [f"{words.minutes(body['minutes'])}"] if body.get("minutes") is not None else []
    told += [words.money(body["money"], currency).strip()] if body.get("money") is not None else []
    return ", ".join(told)


def _details(body: Body, _: Names) -> str:
    told = {"words": "customer's words", "identity": "plate or frame", "reference": "order", "vehicle": "vehicle"}
    said_of = [
        f"{word} {body[name]}" if name != "vehicle" else _vehicle(body[name])
        for name, word in told.items()
        if name in body
    ]
    return f"Details: {'; '.join(said_of)}"


def _vehicle(body: Body) -> str:
    told = {"years": "years", "hours": "hours in use", "odometer_km": "km"}
    return ", ".join(f"{body[name]:g} {word}" for name, word in told.items() if body.get(name) is not None)


def _opened(body: Body, names: Names) -> str:
    return f"Opened: {names.symptom(body['symptom'])}" if body.get("symptom") else "Opened without a complaint"


_SAID: Mapping[str, Callable[[Body, Names], str]] = {
    "opened": _opened,
    "finding": _finding,
    "details": _details,
    "retraction": lambda body, _: f"Taken back: entry {body['of']}",
    "worked": lambda body, names: (
        f"{'Equipment added' if body.get('what') == 'equipment' else 'Worked on last'}: {names.place(body['place'])}"
    ),
    "place-opened": lambda body, names: f"Open: {names.place(body['place'])}",
    "declined": lambda body, names: (
        f"Left out: {names.test(body['test'])}" + (f" ({body['why']})" if body.get("why") else "")
    ),
    "repair": _repair,
    "note": lambda body, _: f"Note: {body['text']}",
    "authorised": lambda body, names: f"Authorised: {amount(body, names.currency)}, by {body['whom']}",
    "spent": lambda body, names: f"Used: {amount(body, names.currency)}",
    "work-declined": lambda body, _: f"Declined: {body['what']}" + (f", by {body['whom']}" if body.get("whom") else ""),
    "put-on": lambda body, names: f"Put on: {names.piece(body)}",
    "put-back": lambda body, _: f"Put back: {body['id']}",
    "not-fit": lambda body, _: f"Not fit for the road until: {body['until']}",
    "fit": lambda body, _: f"Fit for the road: {body['why']}",
    "closed": lambda body, _: f"Closed: {body['cause']}",
    "reopened": lambda body, _: f"Opened again: {body['why']}",
    "moved": lambda body, _: f"Goes on under the release in force then: priors {body['release']['priors']}",
    "comeback": lambda _body, _: "Comes back from an earlier case",
}
