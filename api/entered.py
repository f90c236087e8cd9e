"""A form that was not taken: what is wrong or has changed, with everything that was entered kept."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from flask import render_template

from advisor.contract.body import Json
from advisor.contract.case_answer import event_out
from advisor.contract.case_events import EventsIn
from advisor.contract.case_requests import parse
from advisor.contract.event import StaleCaseError
from advisor.contract.problem import problem_of
from advisor.errors import RequestError, RequestProblem
from api.case_fields import FIELDS, FORMS
from api.case_words import Body, Names, said, said_of
from api.forms import Sent

# A body's keys under the name that a form has for them.
FIELD_OF = {
    "odometer_km": "odometer",
    "cause_of_cause": "cause-of-cause",
    "cause_status": "status",
    "proved_good": "proved",
}


@dataclass(frozen=True)
class Entered:
    """A form to send again: where to, on which version, its hidden fields, the seen ones with their values."""

    title: str
    wrong: tuple[tuple[str, str], ...]
    changed: tuple[str, ...]
    said: tuple[str, ...]
    url: str
    case: str | None
    seen: int | None
    hidden: tuple[tuple[str, str], ...]
    shown: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Try:
    """A form that was tried: its action and address, the case if there is one, and the events that it stood for."""

    form: Sent
    action: str
    url: str
    case: str | None = None
    body: Mapping[str, Json] = field(default_factory=dict)
    names: Names = field(default_factory=lambda: Names(None))


def entered(tried: Try, error: RequestError | StaleCaseError) -> tuple[str, int]:
    """Show a form again with what stands against it."""
    found, form, names = problem_of(error), tried.form, tried.names
    stale = error if isinstance(error, StaleCaseError) else None
    seen = stale.version if stale else max(form.seen, default=None)
    shown = _shown(form, tried.action)
    page = Entered(
        title=found.title,
        wrong=tuple(_wrong(problem) for problem in error.problems) if isinstance(error, RequestError) else (),
        changed=tuple(said(event_out(event), names) for event in stale.changed) if stale else (),
        said=tuple(_said(tried.body, names)) if tried.body else (),
        url=tried.url,
        case=tried.case,
        seen=seen if tried.case else None,
        hidden=tuple((n, value) for n, values in form.fields.items() for value in values if n not in dict(shown)),
        shown=shown,
    )
    return render_template("entered.html", page=page), found.status


def _shown(form: Sent, action: str) -> tuple[tuple[str, str], ...]:
    """Give the fields to correct, with what was typed; an answer has its reading to correct, if it is one."""
    names = FORMS.get(action, ())
    if action == "answer" and form.get("reading") and not form.get("outcome") and not form.get("decline"):
        names = ("reading", "unit")
    return tuple((name, form.get(name)) for name in names)


def _wrong(problem: RequestProblem) -> tuple[str, str]:
    """Name the field that a problem points into, and say what is wrong."""
    tokens = problem.pointer.removeprefix("#/").split("/")
    known = [FIELD_OF.get(token, token) for token in tokens if FIELD_OF.get(token, token) in FIELDS]
    return (FIELDS[known[-1]].label if known else ""), problem.message


def _said(body: Body, names: Names) -> Iterator[str]:
    """Say what was entered, where it could be read."""
    try:
        parse(EventsIn, dict(body))
    except RequestError:  # what cannot be read is told as wrong
        return
    for event in body["events"]:
        if event["kind"] in ("finding", "declined", "repair", "put-back", "retraction", "place-opened", "worked"):
            yield said_of(event["kind"], event["body"], names)
