"""Everything that the case page shows, as values in words; the template only lays it out."""

from __future__ import annotations

import json
from dataclasses import dataclass

from advisor.contract.answer import AdviceAnswer, RepairOut, TestOut, WithheldOut
from advisor.contract.cautions import Caution
from advisor.contract.engine import KnownModel
from advisor.contract.request import AdviceRequest
from advisor.contract.typed import is_over_range
from advisor.contract.wording import place_title
from advisor.knowledge.documents import Schematic
from api import words
from api.case_query import CaseQuery, Step
from api.ranking import Ranking, ranking
from api.step_card import TestCard, test_card

SHOWN_TESTS = 5
VERDICTS = {
    "no_fault": ("The vehicle shows no fault now", "Find out with the customer when it happens, and look again then."),
    "as_designed": ("It works as designed", "Show the customer how it is meant to behave."),
    "unlisted": (
        "The fault is not in this circuit's file",
        "Check the last readings again: the cavity, the side from which the connector is drawn, the condition. "
        "If they hold, look outside this circuit.",
    ),
    "hand_over": ("Hand the vehicle over", "Going on costs more than a specialist. Pass the findings below on."),
}


@dataclass(frozen=True)
class Line:
    """Something noted in the case, with the way to take it back."""

    text: str
    remove_url: str


@dataclass(frozen=True)
class OtherTest:
    """A test that could be done instead."""

    title: str
    place: str
    minutes: str
    saving: str
    url: str


@dataclass(frozen=True)
class RepairLine:
    """A repair with its price and how likely it touches the fault."""

    title: str
    minutes: str
    cost: str
    share: str
    cautions: tuple[Caution, ...]


@dataclass(frozen=True)
class NextCard:
    """The next step: a test with its card, a repair, or a verdict."""

    title: str
    why: str
    test: TestCard | None = None
    repair: RepairLine | None = None
    text: str = ""
    picked: bool = False


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
    tests: tuple[OtherTest, ...]
    more_tests: tuple[OtherTest, ...]
    repairs: tuple[RepairLine, ...]
    withheld: tuple[WithheldOut, ...]
    more_symptoms: tuple[tuple[str, str, str], ...]
    options: dict[str, str]
    form: tuple[Step, ...]
    cost_now: str
    json_url: str
    request_json: str
    answer: AdviceAnswer


def case_page(query: CaseQuery, request: AdviceRequest, answer: AdviceAnswer, model: KnownModel) -> CasePage:
    """Word an answer as a page."""
    schematic = model.schematic
    chosen = _next(query, answer, schematic, request)
    others = _others(query, answer, request, chosen)
    return CasePage(
        circuit=schematic.id,
        circuit_title=schematic.title,
        vehicle_title=schematic.vehicle_title,
        complaint="; ".join(schematic.symptoms[name].title for name in query.named("symptom")),
        next=chosen,
        undo_url=undone.url() if (undone := query.undone()) else None,
        lines=tuple(Line(_words(step, model), query.without(step).url()) for step in query.findings),
        opened=tuple(
            Line(place_title(schematic, place), query.without(("open", place)).url()) for place in query.named("open")
        ),
        skipped=tuple(Line(_title(test, model), query.without(("skip", test)).url()) for test in query.named("skip")),
        ranking=ranking(answer),
        tests=others[:SHOWN_TESTS],
        more_tests=others[SHOWN_TESTS:],
        repairs=tuple(_repair(item, request) for item in answer.repairs),
        withheld=answer.withheld,
        more_symptoms=_more_symptoms(query, schematic),
        options=_options(request),
        form=query.steps,
        cost_now=words.money(answer.expected_cost.now, request.costs.currency),
        json_url=query.seen().url("case.json"),
        request_json=json.dumps(query.body(), ensure_ascii=True),
        answer=answer,
    )


def _next(query: CaseQuery, answer: AdviceAnswer, schematic: Schematic, request: AdviceRequest) -> NextCard:
    """Choose what the page puts first: what the reader picked, else the advice, else the best that is not skipped."""
    step, skipped, pick = answer.next, set(query.named("skip")), query.view("pick")
    tests = {test.test: test for test in answer.tests}
    if pick in tests and pick != step.id:
        return _test(tests[pick], "You chose this test.", schematic, query, request, picked=True)
    if step.kind == "test" and step.id in skipped:
        left = [test for test in answer.tests if test.test not in skipped and test.worth > 0]
        if left:
            return _test(left[0], "The best of the tests that are left.", schematic, query, request)
        return (
            _do(answer.repairs[0], "No test that is left is worth its time.", request)
            if answer.repairs
            else _verdict("hand_over", "")
        )
    if step.kind == "test" and step.id in tests:
        return _test(tests[step.id], step.reason, schematic, query, request)
    repair = next((item for item in answer.repairs if item.repair == step.id), None)
    return _do(repair, step.reason, request) if step.kind == "repair" and repair else _verdict(step.kind, step.reason)


def _test(  # noqa: PLR0913 - one place words every test
    test: TestOut, why: str, schematic: Schematic, query: CaseQuery, request: AdviceRequest, *, picked: bool = False
) -> NextCard:
    saving = words.saving(test.worth, request.costs.labour_per_hour, request.costs.currency)
    return NextCard(
        test.title, f"{_sentence(why)} Doing it next {saving}.", test=test_card(test, schematic, query), picked=picked
    )


def _do(repair: RepairOut, why: str, request: AdviceRequest) -> NextCard:
    return NextCard(repair.title, _sentence(why), repair=_repair(repair, request))


def _verdict(kind: str, why: str) -> NextCard:
    title, text = VERDICTS.get(kind, (kind.replace("_", " "), ""))
    return NextCard(title, _sentence(why), text=text)


def _sentence(text: str) -> str:
    plain = text.strip()
    return plain[:1].upper() + plain[1:] + ("" if plain.endswith((".", "?", "!")) or not plain else ".")


def _repair(repair: RepairOut, request: AdviceRequest) -> RepairLine:
    return RepairLine(
        title=repair.title,
        minutes=words.minutes(repair.minutes),
        cost=words.money(repair.cost, request.costs.currency),
        share=words.share(repair.probability),
        cautions=repair.cautions,
    )


def _others(query: CaseQuery, answer: AdviceAnswer, request: AdviceRequest, chosen: NextCard) -> tuple[OtherTest, ...]:
    shown, skipped = chosen.test.test if chosen.test else None, set(query.named("skip"))
    return tuple(
        OtherTest(
            title=test.title,
            place=test.place.title,
            minutes=words.minutes(test.minutes),
            saving=words.saving(test.worth, request.costs.labour_per_hour, request.costs.currency),
            url=query.seen(pick=test.test).url(),
        )
        for test in answer.tests
        if test.test != shown and test.test not in skipped
    )


def _title(test: str, model: KnownModel) -> str:
    return model.tests[test].title if test in model.tests else test


def _words(step: Step, model: KnownModel) -> str:
    key, value = step
    if key in ("symptom", "absent"):
        title = model.schematic.symptoms[value].title
        return f"Reported: {title}" if key == "symptom" else f"Not the case: {title}"
    test, _, answer = value.rpartition("~")
    if key == "r":
        plain = answer.replace(",", ".")
        read = "over range" if is_over_range(answer) else plain if plain.endswith(("v", "V")) else f"{plain} V"
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
    }
