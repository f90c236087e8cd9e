"""Everything that the case page shows, as values in words; the template only lays it out."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from advisor.contract.answer import AdviceAnswer, WithheldOut
from advisor.contract.engine import KnownModel
from advisor.contract.reasons import PROVED
from advisor.contract.request import AdviceRequest, CostsIn
from advisor.contract.saying import of_testing_on, of_what_is_not_proved
from advisor.contract.typed import is_over_range
from advisor.contract.wording import place_title
from advisor.decision.next_step import RECHECK_ABOVE
from advisor.knowledge.documents import Schematic
from api import words
from api.case_query import CaseQuery, Step
from api.drawings import Drawn, circuit
from api.next_card import NextCard, RepairLine, next_card, repair_line, saving
from api.ranking import Ranking, ranking

SHOWN_TESTS = 5
SHOWN_REPAIRS = 5


@dataclass(frozen=True)
class Line:
    """Something noted in the case, with the way to take it back."""

    text: str
    remove_url: str


@dataclass(frozen=True)
class OtherTest:
    """A test that could be done instead."""

    title: str
    condition: str
    place: str
    minutes: str
    saving: str
    saves: bool
    url: str


@dataclass(frozen=True)
class CasePage:
    """The whole page of a case."""

    circuit: str
    circuit_title: str
    vehicle_title: str
    complaint: str
    next: NextCard
    undo_url: str | None
    lines: tuple[Line, ...]
    opened: tuple[Line, ...]
    skipped: tuple[Line, ...]
    ranking: Ranking
    doubt: str
    drawing: Drawn | None
    tests: tuple[OtherTest, ...]
    more_tests: tuple[OtherTest, ...]
    repairs: tuple[RepairLine, ...]
    more_repairs: tuple[RepairLine, ...]
    withheld: tuple[WithheldOut, ...]
    more_symptoms: tuple[tuple[str, str, str], ...]
    options: dict[str, str]
    form: tuple[Step, ...]
    cost_now: str
    stopping: str
    not_proved: tuple[str, ...]
    used: str
    json_url: str
    request_json: str
    answer: AdviceAnswer


def case_page(query: CaseQuery, request: AdviceRequest, answer: AdviceAnswer, model: KnownModel) -> CasePage:
    """Word an answer as a page."""
    schematic = model.schematic
    chosen = next_card(query, answer, schematic, request.costs)
    others = _variety(_others(query, answer, request.costs, chosen))
    first = tuple(test for test in others if test.saves)[:SHOWN_TESTS]
    repairs = tuple(repair_line(item, request.costs, query) for item in answer.repairs)
    shown = chosen.test.test if chosen.test else None
    titles = {item.repair: item.title for item in answer.repairs}
    return CasePage(
        circuit=schematic.id,
        circuit_title=schematic.title,
        vehicle_title=schematic.vehicle_title,
        complaint="; ".join(schematic.symptoms[name].title for name in query.named("symptom")),
        next=chosen,
        undo_url=undone.url() if (undone := query.undone()) else None,
        lines=_lines(query, ("symptom", "absent", "t", "r", "fix"), lambda step: _words(step, model, titles)),
        opened=_lines(query, ("open",), lambda step: place_title(schematic, step[1])),
        skipped=_lines(query, ("skip",), lambda step: _title(step[1], model)),
        ranking=ranking(answer),
        doubt=_doubt(answer),
        drawing=circuit(schematic, answer.causes, next((t for t in answer.tests if t.test == shown), None)),
        tests=first,
        more_tests=tuple(test for test in others if test not in first),
        repairs=repairs[:SHOWN_REPAIRS],
        more_repairs=repairs[SHOWN_REPAIRS:],
        withheld=answer.withheld,
        more_symptoms=_more_symptoms(query, schematic),
        options=_options(request),
        form=query.steps,
        cost_now=words.money(answer.expected_cost.now, request.costs.currency),
        stopping=of_testing_on(answer),
        not_proved=of_what_is_not_proved(answer),
        used=_used(request),
        json_url=query.seen().url("case.json"),
        request_json=json.dumps(query.body(), ensure_ascii=True),
        answer=answer,
    )


def _lines(query: CaseQuery, keys: Sequence[str], text: Callable[[Step], str]) -> tuple[Line, ...]:
    """The steps of some keys, each with the way to take it back."""
    kept = [(place, step) for place, step in enumerate(query.steps) if step[0] in keys]
    return tuple(Line(text(step), query.without(place).url()) for place, step in kept)


def _doubt(answer: AdviceAnswer) -> str:
    """Name the finding to check again, where probably one is a slip."""
    odd = answer.reasons.odd_finding if answer.reasons else None
    doubtful = odd is not None and answer.evidence.expected_slips >= RECHECK_ABOVE
    return f"{odd.text[:1].upper()}{odd.text[1:]}." if odd and doubtful else ""


def _others(query: CaseQuery, answer: AdviceAnswer, costs: CostsIn, chosen: NextCard) -> tuple[OtherTest, ...]:
    shown = chosen.test.test if chosen.test else None
    return tuple(
        OtherTest(
            title=test.title,
            condition=test.condition.text,
            place=test.place.title if test.opens else "",
            minutes=words.minutes(test.minutes),
            saving=saving(test, costs),
            saves=test.worth >= words.LEAST_SAVING,
            url=query.seen(pick=test.test).url(),
        )
        for test in answer.tests
        if test.test != shown
    )


def _variety(tests: tuple[OtherTest, ...]) -> tuple[OtherTest, ...]:
    """Put the best form of each test first: the same place under another condition is hardly another choice."""
    best: dict[str, OtherTest] = {}
    for test in tests:
        best.setdefault(test.title, test)
    return (*best.values(), *(test for test in tests if best[test.title] is not test))


def _title(test: str, model: KnownModel) -> str:
    return model.tests[test].title if test in model.tests else test


def _words(step: Step, model: KnownModel, titles: Mapping[str, str]) -> str:
    key, value = step
    if key == "fix":
        repair, _, result = value.partition("~")
        return f"Done: {titles.get(repair, repair)}; {PROVED.get(result, 'the complaint was not looked for')}"
    if key in ("symptom", "absent"):
        title = model.schematic.symptoms[value].title
        return f"Reported: {title}" if key == "symptom" else f"Not the case: {title}"
    test, _, answer = value.rpartition("~")
    if key == "r":
        plain = answer.replace(",", ".").strip()
        unit = "" if plain[-1:].isalpha() else f" {model.tests[test].unit}"
        read = "over range" if is_over_range(answer) else plain + unit
        return f"{_title(test, model)}: {read}"
    labels = {item.id: item.label for item in model.tests[test].outcomes}
    return f"{_title(test, model)}: {labels[answer]}"


def _more_symptoms(query: CaseQuery, schematic: Schematic) -> tuple[tuple[str, str, str], ...]:
    """Give title, address when it is the case too, address when it is not, of what was not asked yet."""
    asked = {*query.named("symptom"), *query.named("absent")}
    return tuple(
        (item.title, query.plus(("symptom", item.id)).url(), query.plus(("absent", item.id)).url())
        for item in schematic.symptoms.values()
        if item.id not in asked
    )


def _options(request: AdviceRequest) -> dict[str, str]:
    return {
        "years": f"{request.vehicle.years:g}",
        "hours": f"{request.vehicle.hours:g}",
        "labour": f"{request.costs.labour_per_hour:g}",
        "hand-over": f"{request.costs.hand_over:g}",
        "currency": request.costs.currency,
        "authorised": _limit(request.authorised.money),
        "authorised-minutes": _limit(request.authorised.minutes),
        "spent": f"{request.spent.money:g}",
        "spent-minutes": f"{request.spent.minutes:g}",
    }


def _used(request: AdviceRequest) -> str:
    """Say how much of what the customer authorised is used, nothing where nothing is limited."""
    whole, spent = request.authorised, request.spent
    said = []
    if whole.money is not None:
        said.append(f"{spent.money:.0f} of {whole.money:.0f} {request.costs.currency}")
    if whole.minutes is not None:
        said.append(f"{spent.minutes:.0f} of {whole.minutes:.0f} min")
    return f"Used of what is authorised: {', '.join(said)}." if said else ""


def _limit(value: float | None) -> str:
    """Give a limit as it is typed, nothing where there is none."""
    return "" if value is None else f"{value:g}"
