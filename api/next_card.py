"""What the page puts first: the test that the reader picked, the advice, or the best that is not left out."""

from __future__ import annotations

from dataclasses import dataclass, replace

from advisor.contract.answer import AdviceAnswer, TestOut
from advisor.contract.cautions import Caution
from advisor.contract.repairs import RepairOut, spare_line
from advisor.contract.request import CostsIn
from advisor.contract.saying import of_asking
from advisor.decision.choosing import LIKELY
from advisor.knowledge.documents import Schematic
from api import words
from api.case_query import CaseQuery
from api.step_card import TestCard, test_card

RESULTS = (
    ("Done: the complaint is gone", "~gone"),
    ("Done: it stays", "~stays"),
    ("Done: it was gone and came back", "~back"),
    ("Done, not looked for yet", ""),
)
VERDICTS = {
    "proved": ("The complaint is gone", "Note what was wrong, what was done, and the readings that prove it."),
    "no_fault": ("The vehicle shows no fault now", "Find out with the customer when it happens, and look again then."),
    "unshown": (
        "The complaint does not show now",
        "Find out with the customer when it does. What may be wrong besides, and its repairs, stand below.",
    ),
    "as_designed": ("It works as designed", "Show the customer how it is meant to behave."),
    "unlisted": (
        "The fault is not in this circuit's file",
        "Check the last readings again: the cavity, the side from which the connector is drawn, the condition. "
        "If they hold, look outside this circuit.",
    ),
    "ask_customer": ("Ask the customer before going on", "Note the amount, by whom and when; note it too if not."),
    "hand_over": ("Hand the vehicle over", "Pass on the findings noted below, so that nothing is measured twice."),
}


@dataclass(frozen=True)
class RepairLine:
    """A repair with its price, how likely it touches the fault, and what may have come of it, each with its address."""

    title: str
    minutes: str
    cost: str
    share: str
    cautions: tuple[Caution, ...]
    spares: tuple[str, ...]
    results: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class NextCard:
    """The next step: a test with its card, a repair, or a verdict."""

    title: str
    why: str
    test: TestCard | None = None
    repair: RepairLine | None = None
    text: str = ""
    picked: bool = False
    bearings: str = ""


def next_card(query: CaseQuery, answer: AdviceAnswer, schematic: Schematic, costs: CostsIn) -> NextCard:
    """Choose the step and word it."""
    found = answer.next.bearings
    return replace(_chosen(query, answer, schematic, costs), bearings=found.text if found else "")


def _chosen(query: CaseQuery, answer: AdviceAnswer, schematic: Schematic, costs: CostsIn) -> NextCard:
    step, pick = answer.next, query.view("pick")
    tests = {test.test: test for test in answer.tests}
    if pick in tests and pick != step.id:
        chosen = tests[pick]
        return _test(chosen, f"you chose it; doing it next {saving(chosen, costs)}", schematic, query, picked=True)
    if step.kind == "test" and step.id in tests:
        return _test(tests[step.id], step.reason, schematic, query)
    repair = next((item for item in answer.repairs if step.kind == "repair" and item.repair == step.id), None)
    if repair:
        return NextCard(repair.title, _sentence(step.reason), repair=repair_line(repair, costs, query))
    gone = any(value.endswith("~gone") for value in query.named("fix")[-1:])
    kind = step.kind
    if kind == "no_fault" and (gone or answer.no_fault < LIKELY):
        kind = "proved" if gone else "unshown"
    return _verdict(kind, step.reason, of_asking(answer))


def saving(test: TestOut, costs: CostsIn) -> str:
    """Say what doing a test next saves."""
    return words.saving(test.worth, costs.labour_per_hour, costs.currency)


def repair_line(repair: RepairOut, costs: CostsIn, query: CaseQuery) -> RepairLine:
    """Word a repair."""
    results = RESULTS if query.named("symptom") else RESULTS[-1:]
    return RepairLine(
        title=repair.title,
        minutes=words.minutes(repair.minutes),
        cost=words.money(repair.cost, costs.currency),
        share=words.share(repair.probability),
        cautions=repair.cautions,
        spares=tuple(spare_line(spare) for spare in repair.spares),
        results=tuple((label, query.plus(("fix", f"{repair.repair}{mark}")).url()) for label, mark in results),
    )


def _test(test: TestOut, why: str, schematic: Schematic, query: CaseQuery, *, picked: bool = False) -> NextCard:
    return NextCard(test.title, _sentence(why), test=test_card(test, schematic, query), picked=picked)


def _verdict(kind: str, why: str, said: str) -> NextCard:
    title, text = VERDICTS.get(kind, (kind.replace("_", " "), ""))
    return NextCard(title, _sentence(why), text=f"{said} {text}".strip())


def _sentence(text: str) -> str:
    plain = text.strip()
    return plain[:1].upper() + plain[1:] + ("" if plain.endswith((".", "?", "!")) or not plain else ".")
