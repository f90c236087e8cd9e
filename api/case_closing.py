"""Closing a case: what its form is filled with beforehand, and the event that it becomes."""

from __future__ import annotations

import re
from collections.abc import Sequence

from advisor.cases.looking import Look
from advisor.contract.body import Json, pointer
from advisor.contract.case_answer import CaseOut, MendedOut
from advisor.contract.typed import typed_number
from advisor.errors import RequestError, RequestProblem
from api.case_actions import Body, Doing, event
from api.case_words import Names
from api.ranking import ranking

_PART = re.compile(r"(?:(\d{1,4})\s*[x×]\s*)?([^;]+?)\s*(?:;\s*([^;]+))?")
_STEP = re.compile(r"([^;]+?)\s*;\s*([^;]+)")


def closed(doing: Doing) -> list[Body]:
    """Give the closing that a form tells; raises RequestError with every line that cannot be read."""
    form, problems = doing.form, list[RequestProblem]()
    parts = [_part(line, problems) for line in _lines(form.get("parts"))]
    steps = [_step(line, problems) for line in _lines(form.get("steps"))]
    if problems:
        raise RequestError(problems)
    return [
        event(
            "closed",
            complaint=form.get("complaint"),
            cause=form.get("cause"),
            cause_status=form.get("status"),
            cause_of_cause=form.get("cause-of-cause"),
            correction=form.get("correction"),
            causes=list(form.all("causes")),
            parts=[*parts],
            minutes=[*steps],
            proved_good=[*_lines(form.get("proved"))],
        )
    ]


def prefilled(look: Look, names: Names, proved: Sequence[str]) -> dict[str, str]:
    """Give what a closing form begins with: what the case says already."""
    case = look.case
    cured = [mended.repair.repair for mended in _repairs(case) if mended.repair.result == "gone"]
    done = [names.repair(repair) for repair in cured]
    told = [text for text in (case.words, names.symptom(case.symptom) if case.symptom else "") if text]
    return {
        "complaint": " / ".join(told),
        "cause": _cause(look, cured),
        "status": "confirmed" if done else "believed",
        "correction": "\n".join(done),
        "steps": "\n".join(_steps(case, names)),
        "proved": "\n".join(proved),
    }


def _cause(look: Look, cured: Sequence[str]) -> str:
    """Name what the last repair has cured, or what is likeliest now; nothing where no cause is."""
    if look.began and cured:
        causes = [cause for cause in look.began.causes if cause.repair == cured[-1]]
        return causes[0].title if len(causes) == 1 else next((cause.repair_group or "" for cause in causes), "")
    first = ranking(look.advised.answer).first[:1] if look.advised else ()
    return next((bar.title for bar in first if bar.kind == "cause"), "")


def _repairs(case: CaseOut) -> list[MendedOut]:
    return [stretch.repair_after for stretch in case.stretches if stretch.repair_after]


def _steps(case: CaseOut, names: Names) -> list[str]:
    """Name what time went into: what was written together with the time."""
    lines = []
    for event_ in case.events:
        if event_.kind == "spent" and not event_.retracted and event_.body.get("minutes"):
            beside = [other for other in case.events if other.at == event_.at and other.kind in ("finding", "repair")]
            title = names.subject(beside[0]) if beside else "other work"
            lines.append(f"{title.replace(';', ',')[:150]}; {event_.body['minutes']:g}")
    return lines


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _part(line: str, problems: list[RequestProblem]) -> Json:
    found = _PART.fullmatch(line)
    if found is None:
        problems.append(RequestProblem(pointer("parts"), f"expected a line such as 2 x lamp; 3.50, not {line[:60]!r}"))
        return None
    count, part, price = found.groups()
    paid = {"price": typed_number(price, pointer("parts"), problems)} if price else {}
    return {"part": part, "count": int(count or 1), **paid}


def _step(line: str, problems: list[RequestProblem]) -> Json:
    found = _STEP.fullmatch(line)
    if found is None:
        problems.append(RequestProblem(pointer("steps"), f"expected a line such as look at lamp; 2, not {line[:60]!r}"))
        return None
    return {"step": found[1], "minutes": typed_number(found[2], pointer("steps"), problems)}
