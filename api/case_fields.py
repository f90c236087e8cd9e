"""The fields of the forms: what each is called, and how it is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Field:
    """A field: label, kind (line, number, text, choice, or a place of the vehicle), choices as value and label, a hint.

    `required` says whether it must be filled in.
    """

    label: str
    kind: str = "line"
    choices: tuple[tuple[str, str], ...] = ()
    hint: str = ""
    required: bool = False


PIECES = (
    ("jumper", "Jumper"),
    ("fuse-pulled", "Fuse pulled"),
    ("unplugged", "Unplugged"),
    ("bypass", "Bypass"),
)
STATUSES = (
    ("confirmed", "Confirmed: the complaint is gone after the repair"),
    ("believed", "Believed, not proved"),
    ("unknown", "Not known"),
)
UNITS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "V": (("V", "V"), ("mV", "mV")),
    "A": (("A", "A"), ("mA", "mA")),
    "ohm": (("ohm", "Ω"), ("kohm", "kΩ"), ("Mohm", "MΩ")),
}
ALWAYS = (("", "Not asked"), ("always", "Always"), ("goes", "Comes and goes"))

FORMS: Mapping[str, tuple[str, ...]] = {
    "open": ("words", "identity", "reference", "years", "odometer", "hours", "labour", "hand-over"),
    "details": ("words", "identity", "reference", "years", "odometer", "hours"),
    "intake": ("always", "when", "since", "worked-on", "worked-at", "also", "added", "added-at"),
    "note": ("text",),
    "authorised": ("minutes", "money", "whom"),
    "spent": ("minutes", "money"),
    "work-declined": ("work", "whom"),
    "put-on": ("what", "where"),
    "not-fit": ("until",),
    "fit": ("why",),
    "reopen": ("why",),
    "close": ("complaint", "cause", "status", "cause-of-cause", "correction", "parts", "steps", "proved"),
}
"""The fields that are seen in the form of each action, in order; the others of a form are hidden."""

FIELDS: Mapping[str, Field] = {
    "reading": Field("Reading", "number"),
    "unit": Field("Unit", "choice", tuple(unit for units in UNITS.values() for unit in units)),
    "words": Field("In the customer's words", "text"),
    "identity": Field("Plate or frame number"),
    "reference": Field("Order number of the shop"),
    "years": Field("Age in years", "number"),
    "hours": Field("Hours in use", "number"),
    "odometer": Field("Odometer in km", "number"),
    "labour": Field("Labour per hour", "number"),
    "hand-over": Field("Price of handing over", "number"),
    "text": Field("Note", "text", required=True),
    "always": Field("Does it always show?", "choice", ALWAYS),
    "when": Field("When: wet, hot, on bumps …"),
    "since": Field("Since when"),
    "worked-on": Field("What was worked on last"),
    "worked-at": Field("Where that was", "place"),
    "also": Field("What else stopped working"),
    "added": Field("Added equipment: tracker, tow socket …"),
    "added-at": Field("Where it is connected", "place"),
    "what": Field("What", "choice", PIECES),
    "where": Field("Where", hint="cavity, fuse or connector"),
    "until": Field("Not fit for the road until", required=True),
    "why": Field("Why", required=True),
    "minutes": Field("Minutes", "number"),
    "money": Field("Money", "number"),
    "whom": Field("By whom", required=True),
    "work": Field("Work that is declined", required=True),
    "complaint": Field("Complaint", "text"),
    "cause": Field("Cause", "text", required=True),
    "status": Field("How sure", "choice", STATUSES),
    "cause-of-cause": Field("Why it came to that", "text", hint="why the fuse blew, where the water came from"),
    "correction": Field("Correction", "text", required=True),
    "parts": Field("Parts, one a line", "text", hint="such as: 2 x lamp 21 W; 3.50"),
    "steps": Field("Minutes of each step, one a line", "text", hint="such as: look at the lamp; 2"),
    "proved": Field("Proved good, one a line", "text"),
}
