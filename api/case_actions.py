"""From a form to the events of a case that it stands for; what is typed wrong is pointed at by its field."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from advisor.contract.body import Json, pointer
from advisor.contract.case_answer import CaseOut
from advisor.contract.engine import KnownModel
from advisor.contract.typed import is_over_range, typed_number, typed_reading
from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.catalogue import Test
from api.forms import Sent
from api.places import way_to

Body = dict[str, Json]
GOES = "goes"
"""What the form says where the complaint comes and goes."""
WORKED = {"worked-at": "work", "added-at": "equipment"}
"""What was done at the place that a field of the form names."""
STARTED = "it started working"
"""What the form says where a test has no answer since it started working meanwhile."""


@dataclass(frozen=True)
class Doing:
    """What an action gets: the form, the case as it is, and the way to its model."""

    form: Sent
    case: CaseOut
    model: Callable[[], KnownModel]


def event(kind: str, **body: Json) -> Body:
    """Give an event without what is not said."""
    return {"kind": kind, "body": {name: value for name, value in body.items() if value not in (None, "")}}


def numbers(form: Sent, *names: str) -> dict[str, float | None]:
    """Give typed numbers, None where nothing is typed; raises RequestError with every one that is none."""
    problems: list[RequestProblem] = []
    found = {name: typed_number(form.get(name), pointer(name), problems) if form.get(name) else None for name in names}
    if problems:
        raise RequestError(problems)
    return found


def _answer(doing: Doing) -> list[Body]:
    """An outcome, a reading, or why there is none; with it what was opened, put on and spent on the way."""
    form = doing.form
    name = form.get("test")
    if form.get("decline"):
        started = form.get("decline") == STARTED or None
        return [event("declined", test=name, why=form.get("decline"), started_working=started)]
    test = doing.model().tests.get(name)
    finding = (
        {"kind": "outcome", "test": name, "outcome": form.get("outcome")} if form.get("outcome") else _reading(form)
    )
    on_the_way = [*_opened(doing, form.get("place")), *(_put_on(doing, test) if test else ())]
    return [*on_the_way, {"kind": "finding", "body": finding}, *_spent(form)]


def _reading(form: Sent) -> Body:
    """A reading as typed; a unit that is typed with it goes before the unit that is chosen."""
    typed, problems = form.get("reading"), list[RequestProblem]()
    bare = typed and not is_over_range(typed) and not typed[-1:].isalpha() and typed[-1:] != "Ω"
    found = typed_reading(form.get("test"), f"{typed} {form.get('unit')}" if bare else typed, 0, problems)
    if problems or not isinstance(found, dict):
        raise RequestError([RequestProblem(pointer("reading"), problem.message) for problem in problems])
    return found


def _opened(doing: Doing, place: str) -> list[Body]:
    chain = way_to(place, doing.model().schematic) if place else ()
    return [event("place-opened", place=name) for name in chain if name not in doing.case.places_opened]


def _put_on(doing: Doing, test: Test) -> list[Body]:
    """What a test has set up has to come off again, and the case does not close before."""
    on, connectors = {piece.id for piece in doing.case.put_on}, doing.model().schematic.connectors
    setup = test.setup
    pieces: list[tuple[str, str, str | None]] = [
        (name, "unplugged" if name in connectors else "fuse-pulled", None) for name in setup.unplug
    ]
    pieces += [("jumper", "jumper", " to ".join(setup.jumper))] if setup.jumper else []
    return [event("put-on", id=name, what=what, where=where) for name, what, where in pieces if name not in on]


def _spent(form: Sent) -> list[Body]:
    """What a step is reckoned with; what it took in truth is told by hand."""
    amount = numbers(form, "minutes", "money")
    return [event("spent", **amount)] if any(value is not None for value in amount.values()) else []


def _repair(doing: Doing) -> list[Body]:
    return [event("repair", repair=doing.form.get("repair"), result=doing.form.get("result")), *_spent(doing.form)]


def _symptom(doing: Doing) -> list[Body]:
    return [event("finding", symptom=doing.form.get("symptom"), present=doing.form.get("present") == "yes")]


def _undo(doing: Doing) -> list[Body]:
    """What was written together is taken back together."""
    seqs = [seq for seq in doing.form.all("of") if seq.isascii() and seq.isdigit()]
    return [event("retraction", of=int(seq[:9])) for seq in seqs]


def _piece(doing: Doing) -> list[Body]:
    form, on = doing.form, {piece.id for piece in doing.case.put_on}
    plain = form.get("where") or form.get("what")
    free = next(name for name in (plain, *(f"{plain} {count}" for count in range(2, 1000))) if name not in on)
    return [event("put-on", id=free, what=form.get("what"), where=form.get("where"))]


def _intake(doing: Doing) -> list[Body]:
    """What was asked at the counter: evidence is whether it comes and goes, and where somebody has worked."""
    asked = {
        "when": "when",
        "since": "since",
        "worked-on": "worked on last",
        "also": "also stopped",
        "added": "added equipment",
    }
    told = [f"{word}: {doing.form.get(name)}" for name, word in asked.items() if doing.form.get(name)]
    always, symptom = doing.form.get("always"), doing.case.symptom
    found: list[Body] = []
    if always and symptom:
        found = [event("finding", symptom=symptom, comes_and_goes=always == GOES)]
    elif always:
        told.insert(0, "it comes and goes" if always == GOES else "it always shows")
    found += [
        event("worked", place=doing.form.get(field), what=what)
        for field, what in WORKED.items()
        if doing.form.get(field)
    ]
    if not told and not found:
        raise RequestError([RequestProblem(pointer("when"), "nothing is entered yet")])
    return found + ([event("note", text=f"Intake: {'; '.join(told)}")] if told else [])


def _authorised(doing: Doing) -> list[Body]:
    return [event("authorised", **numbers(doing.form, "minutes", "money"), whom=doing.form.get("whom"))]


def _details(doing: Doing) -> list[Body]:
    form = doing.form
    return [
        event("details", vehicle=vehicle(form), **{name: form.get(name) for name in ("words", "identity", "reference")})
    ]


def vehicle(form: Sent) -> Json:
    """Give the vehicle that a form tells; None where it tells nothing."""
    told = numbers(form, "years", "hours", "odometer")
    named = {"years": told["years"], "hours": told["hours"], "odometer_km": told["odometer"]}
    return {name: value for name, value in named.items() if value is not None} or None


def _moved(doing: Doing) -> list[Body]:
    """The release is sent as the page has shown it: what nobody has seen is not gone over to."""
    form = doing.form
    return [event("moved", release={name: form.get(name) for name in ("knowledge", "priors", "engine")})]


def _simple(kind: str, **fields: str) -> Callable[[Doing], list[Body]]:
    """Give an action whose fields are those of one event's body, under the names that the form has for them."""
    return lambda doing: [event(kind, **{name: doing.form.get(field) for name, field in fields.items()})]


def _each(kind: str, name: str, field: str) -> Callable[[Doing], list[Body]]:
    return lambda doing: [event(kind, **{name: value}) for value in doing.form.all(field)]


ACTIONS: Mapping[str, Callable[[Doing], Iterable[Body]]] = {
    "answer": _answer,
    "repair": _repair,
    "symptom": _symptom,
    "undo": _undo,
    "open-place": lambda doing: _opened(doing, doing.form.get("place")),
    "note": _simple("note", text="text"),
    "intake": _intake,
    "authorised": _authorised,
    "spent": lambda doing: _spent(doing.form),
    "work-declined": _simple("work-declined", what="work", whom="whom"),
    "put-on": _piece,
    "put-back": _each("put-back", "id", "piece"),
    "not-fit": _simple("not-fit", until="until"),
    "fit": _simple("fit", why="why"),
    "details": _details,
    "move": _moved,
    "reopen": _simple("reopened", why="why"),
}
JUDGED = ("answer", "repair", "symptom", "intake")
"""Actions after which there has to be an advice, or they are not taken."""
