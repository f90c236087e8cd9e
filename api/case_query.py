"""A case as a query string: every step in order, so that back, undo, reload and print need no session."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from urllib.parse import parse_qsl, quote, urlencode

from advisor.contract.body import Json, pointer
from advisor.contract.nearest import shown, unknown
from advisor.contract.typed import typed_number, typed_reading
from advisor.errors import ImpossibleFindingsError, RequestError, RequestProblem

# Steps keep their order; options stand once.
STEPS = ("symptom", "absent", "t", "r", "skip", "fix", "open")
FINDINGS = ("symptom", "absent", "t", "r", "skip", "fix")
OPTIONS = {
    "years": ("vehicle", "years"),
    "hours": ("vehicle", "hours"),
    "labour": ("costs", "labour_per_hour"),
    "hand-over": ("costs", "hand_over"),
    "currency": ("costs", "currency"),
    "authorised": ("authorised", "money"),
    "authorised-minutes": ("authorised", "minutes"),
    "spent": ("spent", "money"),
    "spent-minutes": ("spent", "minutes"),
}
VIEWS = ("pick", "mirror")
FORM = ("reading-of", "reading")
MAX_STEPS = 300
Step = tuple[str, str]


@dataclass(frozen=True)
class CaseQuery:
    """The state of a case page: steps in order, options of the vehicle and the costs, what is looked at."""

    circuit: str
    steps: tuple[Step, ...] = ()
    options: tuple[Step, ...] = ()
    views: tuple[Step, ...] = ()

    def url(self, suffix: str = "case") -> str:
        """Give the address of this state."""
        pairs = urlencode((*self.steps, *self.options, *self.views), safe="~:")
        return f"/circuit/{quote(self.circuit)}/{suffix}" + (f"?{pairs}" if pairs else "")

    def plus(self, *steps: Step) -> CaseQuery:
        """Give the case with steps added; what it has already is left out, but for what came before a repair."""
        last = max((place for place, (key, _) in enumerate(self.steps) if key == "fix"), default=-1)
        known = {*self.steps[last + 1 :], *(step for step in self.steps if step[0] not in ("t", "r", "fix"))}
        return replace(self, steps=(*self.steps, *(step for step in steps if step not in known)), views=())

    def without(self, place: int) -> CaseQuery:
        """Give the case without one of its steps."""
        return replace(self, steps=(*self.steps[:place], *self.steps[place + 1 :]), views=())

    def undone(self) -> CaseQuery | None:
        """Give the case before its last finding or skipped test; None when there is nothing to undo."""
        last = max((place for place, (key, _) in enumerate(self.steps) if key != "open"), default=None)
        return None if last is None else replace(self, steps=self.steps[:last], views=())

    def seen(self, **views: str) -> CaseQuery:
        """Give the same case looked at in another way."""
        return replace(self, views=tuple(views.items()))

    def view(self, name: str) -> str | None:
        """Give one way of looking at the case."""
        return dict(self.views).get(name)

    def named(self, key: str) -> tuple[str, ...]:
        """Give the values of all steps of one key, in order."""
        return tuple(value for name, value in self.steps if name == key)

    @property
    def findings(self) -> tuple[Step, ...]:
        """The steps that are findings; the nth is the nth finding of the request."""
        return tuple(step for step in self.steps if step[0] in FINDINGS)

    def mended(self, error: RequestError) -> CaseQuery:
        """Give the case without the steps and options that an error points at.

        Of findings that are impossible together only the last one goes: the others may all be right.
        """
        together = isinstance(error, ImpossibleFindingsError)
        places = {tuple(item.pointer.split("/")[1:3]) for item in error.problems[-1 if together else 0 :]}
        kept, counts = [], {"findings": 0, "opened": 0, "": 0}
        for step in self.steps:
            part = "findings" if step[0] in FINDINGS else "opened" if step[0] == "open" else ""
            if (part, str(counts[part])) not in places:
                kept.append(step)
            counts[part] += 1
        options = tuple(option for option in self.options if OPTIONS[option[0]] not in places)
        return replace(self, steps=tuple(kept), options=options, views=())

    def body(self) -> dict[str, Json]:
        """Give the request that this page asks, as JSON values; raises RequestError for all that is no number."""
        problems: list[RequestProblem] = []
        body: dict[str, Json] = {"circuit": self.circuit}
        for key, text in self.options:
            part, name = OPTIONS[key]
            value = text if name == "currency" else typed_number(text, pointer(part, name), problems)
            section = body.setdefault(part, {})
            assert isinstance(section, dict)
            section[name] = value
        body["findings"] = [_finding(place, step, problems) for place, step in enumerate(self.findings)]
        body["opened"] = list(self.named("open"))
        if problems:
            raise RequestError(problems)
        return body


def parse_case(circuit: str, query: str) -> tuple[CaseQuery, Step | None]:
    """Read a query string into a case and the reading that a form just sent, as a step; raises RequestError."""
    try:
        pairs = parse_qsl(query, keep_blank_values=True, max_num_fields=MAX_STEPS, errors="strict")
    except ValueError as error:
        raise RequestError([RequestProblem("#", "the address is damaged or too long")]) from error
    known = (*STEPS, *OPTIONS, *VIEWS, *FORM)
    odd = [key for key, _ in pairs if key not in known]
    if odd:
        raise RequestError([RequestProblem("#", unknown("part of the address", key, known)) for key in odd])
    sent = dict(pairs)
    test, reading = sent.get("reading-of"), sent.get("reading", "").strip()
    return _case(circuit, pairs), (("r", f"{test}~{reading}") if test and reading else None)


def salvaged(circuit: str, query: str) -> CaseQuery:
    """Read what can be read of a query string, wrong or not; it never fails."""
    try:
        return _case(circuit, parse_qsl(query, keep_blank_values=True, max_num_fields=MAX_STEPS, errors="strict"))
    except ValueError:
        return CaseQuery(circuit)


def _case(circuit: str, pairs: Sequence[Step]) -> CaseQuery:
    return CaseQuery(
        circuit,
        tuple(pair for pair in pairs if pair[0] in STEPS),
        tuple({key: value for key, value in pairs if key in OPTIONS and value}.items()),
        tuple((key, value) for key, value in pairs if key in VIEWS),
    )


def _finding(place: int, step: Step, problems: list[RequestProblem]) -> Json:
    key, value = step
    if key in ("symptom", "absent"):
        return {"kind": "symptom", "symptom": value, "present": key == "symptom"}
    if key == "skip":
        return {"kind": "declined", "test": value}
    if key == "fix":
        repair, _, result = value.partition("~")
        return {"kind": "repair", "repair": repair, **({"result": result} if result else {})}
    test, mark, answer = value.rpartition("~")
    if not mark:
        message = f"expected TEST~{'OUTCOME' if key == 't' else 'READING'}, not {shown(value)}"
        problems.append(RequestProblem(pointer("findings", place), message))
    if key == "t":
        return {"kind": "outcome", "test": test, "outcome": answer}
    return typed_reading(test, answer, place, problems)
