"""Everything that the page of an open case shows, as values in words; the template only lays it out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter

from advisor.cases.looking import Advised, Look
from advisor.contract.answer import AdviceAnswer, WithheldOut
from advisor.contract.case_answer import AmountOut, CaseOut, EventOut
from advisor.contract.engine import KnownModel
from advisor.contract.repairs import RepairOut
from advisor.contract.saying import of_testing_on, of_what_is_not_proved
from advisor.contract.wording import part_place
from advisor.decision.next_step import RECHECK_ABOVE
from advisor.knowledge.places import path
from api import words
from api.case_history import History, history, moved_by
from api.case_words import Names, names_of
from api.drawings import Drawn, circuit
from api.next_card import NextCard, RepairLine, next_card, repair_line, saving
from api.proved import proved_good
from api.ranking import Ranking, ranking

SHOWN_REPAIRS, SHOWN_TESTS = 5, 6


@dataclass(frozen=True)
class OtherTest:
    """A test that could be done instead."""

    test: str
    title: str
    condition: str
    place: str
    minutes: str
    saving: str


@dataclass(frozen=True)
class Judged:
    """What the advice puts on the page: the step, the ranking, and what else may be done."""

    next: NextCard
    bearings: str
    drawing: Drawn | None
    testing_on: str
    ranking: Ranking
    doubt: str
    proved: tuple[str, ...]
    not_proved: tuple[str, ...]
    tests: tuple[OtherTest, ...]
    more_tests: tuple[OtherTest, ...]
    repairs: tuple[RepairLine, ...]
    more_repairs: tuple[RepairLine, ...]
    withheld: tuple[WithheldOut, ...]
    cost_now: str
    answer: AdviceAnswer


@dataclass(frozen=True)
class CasePage:
    """The page of a case; `judged` is None where nothing can be advised, and `trouble` says why."""

    case: CaseOut
    names: Names
    title: str
    complaint: str
    judged: Judged | None
    trouble: tuple[str, ...]
    history: History
    opened: tuple[tuple[str, int], ...]
    left_out: tuple[tuple[str, int], ...]
    more_symptoms: tuple[tuple[str, str], ...]
    places: tuple[tuple[str, str], ...]
    used: str


def case_page(look: Look, model: KnownModel | None, *, mirrored: bool = False) -> CasePage:
    """Word a case with its advice."""
    case, advised = look.case, look.advised
    names = names_of(model, answers_of(look), case.costs.currency)
    return CasePage(
        case=case,
        names=names,
        title=names.circuit if model else case.circuit,
        complaint="; ".join(names.symptom(name) for name in _reported(case)),
        judged=_judged(look, advised, model, mirrored=mirrored) if advised and model else None,
        trouble=look.trouble,
        history=history(case, names, moved_by(advised.answer, advised.sources) if advised else {}),
        opened=tuple((names.place(str(row.body["place"])), row.seq) for row in _counting(case, "place-opened")),
        left_out=tuple((names.test(str(row.body["test"])), row.seq) for row in _counting(case, "declined")),
        more_symptoms=_more_symptoms(case, model) if model else (),
        places=_places(model) if model else (),
        used=used(case.authorised, case.spent, case.costs.currency),
    )


def _places(model: KnownModel) -> tuple[tuple[str, str], ...]:
    """Places of the circuit's parts and what they are inside of, by title, as choices of a field; nothing first."""
    schematic = model.schematic
    parts = {place for part in model.cause_parts if (place := part_place(schematic, part))}
    known = {place for inner in parts for place in path(schematic.places, inner)}
    return ("", "Not asked"), *sorted(((place, schematic.places[place].title) for place in known), key=itemgetter(1))


def used(authorised: AmountOut, spent: AmountOut, currency: str) -> str:
    """Say what is used, and of how much."""
    minutes, money = round(spent.minutes or 0.0), words.fives(spent.money or 0.0)
    of_minutes = f" of {round(authorised.minutes)}" if authorised.minutes is not None else ""
    of_money = f" of {words.fives(authorised.money)}" if authorised.money is not None else ""
    nothing = "" if of_minutes or of_money else ", nothing authorised yet"
    return f"Used: {minutes}{of_minutes} min, {money}{of_money} {currency}{nothing}."


def answers_of(look: Look) -> tuple[AdviceAnswer, ...]:
    """Give the answers that name repairs."""
    return tuple(answer for answer in (look.began, look.advised.answer if look.advised else None) if answer)


def _judged(look: Look, advised: Advised, model: KnownModel, *, mirrored: bool) -> Judged:
    case, answer = look.case, advised.answer
    card = next_card(case, advised, model.schematic, mirrored=mirrored)
    shown = card.repair.repair if card.repair else ""
    repairs, tests = _repairs(answer.repairs, case, shown), _others(case, advised)
    return Judged(
        next=card,
        bearings=answer.next.bearings.text if answer.next.bearings else "",
        drawing=circuit(model.schematic, answer.causes, advised.test),
        testing_on=of_testing_on(answer),
        ranking=ranking(answer),
        doubt=_doubt(answer),
        proved=proved_good(look.began or answer, answer, model),
        not_proved=of_what_is_not_proved(answer),
        tests=tests[:SHOWN_TESTS],
        more_tests=tests[SHOWN_TESTS:],
        repairs=repairs[:SHOWN_REPAIRS],
        more_repairs=repairs[SHOWN_REPAIRS:],
        withheld=answer.withheld,
        cost_now=words.money(answer.expected_cost.now, case.costs.currency),
        answer=answer,
    )


def _repairs(rows: Sequence[RepairOut], case: CaseOut, shown: str) -> tuple[RepairLine, ...]:
    return tuple(repair_line(row, case.costs) for row in rows if row.repair != shown)


def _doubt(answer: AdviceAnswer) -> str:
    """Name the finding to check again, where probably one is a slip."""
    odd = answer.reasons.odd_finding if answer.reasons else None
    doubtful = odd is not None and answer.evidence.expected_slips >= RECHECK_ABOVE
    return f"{odd.text[:1].upper()}{odd.text[1:]}." if odd and doubtful else ""


def _others(case: CaseOut, advised: Advised) -> tuple[OtherTest, ...]:
    """List the other tests, the best form of each first: another condition is hardly another choice."""
    rows = [test for test in advised.answer.tests if advised.test is None or test.test != advised.test.test]
    best: dict[str, str] = {}
    for test in rows:
        best.setdefault(test.title, test.test)
    ordered = sorted(rows, key=lambda test: best[test.title] != test.test)
    return tuple(
        OtherTest(
            test=test.test,
            title=test.title,
            condition=test.condition.text,
            place=test.place.title if test.opens else "",
            minutes=words.minutes(test.minutes),
            saving=saving(test, case.costs),
        )
        for test in ordered
    )


def _counting(case: CaseOut, kind: str) -> list[EventOut]:
    return [event for event in case.events if event.kind == kind and not event.retracted]


def _reported(case: CaseOut) -> list[str]:
    findings = [found.finding for stretch in case.stretches for found in stretch.findings]
    return [str(row["symptom"]) for row in findings if "symptom" in row and row.get("present", True)]


def _more_symptoms(case: CaseOut, model: KnownModel) -> tuple[tuple[str, str], ...]:
    """Give title and id of what was not asked yet."""
    found = [row.finding for stretch in case.stretches for row in stretch.findings]
    asked = {row["symptom"] for row in found if "symptom" in row}
    return tuple((item.title, item.id) for item in model.schematic.symptoms.values() if item.id not in asked)
