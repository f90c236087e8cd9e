"""What the page puts first: the test that is looked at, a repair, or a verdict."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.cases.looking import Advised
from advisor.contract.answer import AdviceAnswer, TestOut
from advisor.contract.case_answer import CaseOut
from advisor.contract.cautions import Caution
from advisor.contract.repairs import RepairOut, spare_line
from advisor.contract.request import CostsIn
from advisor.contract.saying import of_asking
from advisor.decision.choosing import LIKELY
from advisor.knowledge.documents import Schematic
from api import words
from api.step_card import StepCard, step_card

# From the top down; the good one comes last, as among the answers of a test.
RESULTS = (
    ("back", "It was gone and came back"),
    ("stays", "The complaint stays"),
    ("gone", "The complaint is gone"),
)
VERDICTS = {
    "proved": ("The complaint is gone", "Close the case with what was wrong, what was done and the proving readings."),
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
    "ask_customer": ("Ask the customer before going on", "Enter below what was said, by whom, and what was declined."),
    "hand_over": ("Hand the vehicle over", "Print the write-up and pass it on, so that nothing is measured twice."),
}


@dataclass(frozen=True)
class RepairLine:
    """A repair with its price, how likely it touches the fault, and the cautions on it."""

    repair: str
    title: str
    minutes: str
    cost: str
    share: str
    cautions: tuple[Caution, ...]
    spares: tuple[str, ...]
    spent_minutes: float
    spent_money: float


@dataclass(frozen=True)
class NextCard:
    """The next step: a test with its card, a repair, or a verdict."""

    title: str
    why: str
    kind: str
    test: StepCard | None = None
    repair: RepairLine | None = None
    text: str = ""

    @property
    def kicker(self) -> str:
        """The word above the title."""
        return {"picked": "You chose", "test": "Test next", "repair": "Repair next"}.get(self.kind, "Advice")


def next_card(case: CaseOut, advised: Advised, schematic: Schematic, *, mirrored: bool) -> NextCard:
    """Word the step."""
    answer, step, costs = advised.answer, advised.answer.next, case.costs
    if advised.test is not None:
        card = step_card(advised.test, schematic, advised.after, case.put_on, mirrored=mirrored)
        picked = advised.test.test != step.id
        why = f"you chose it; doing it next {saving(advised.test, costs)}" if picked else step.reason
        return NextCard(card.title, _sentence(why), "picked" if picked else "test", test=card)
    repair = next((row for row in answer.repairs if step.kind == "repair" and row.repair == step.id), None)
    if repair:
        return NextCard(repair.title, _sentence(step.reason), "repair", repair=repair_line(repair, costs))
    return _verdict(_kind(case, answer), step.reason, of_asking(answer))


def saving(test: TestOut, costs: CostsIn) -> str:
    """Say what doing a test next saves."""
    return words.saving(test.worth, costs.labour_per_hour, costs.currency)


def repair_line(repair: RepairOut, costs: CostsIn) -> RepairLine:
    """Word a repair."""
    return RepairLine(
        repair=repair.repair,
        title=repair.title,
        minutes=words.minutes(repair.minutes),
        cost=words.money(repair.cost, costs.currency),
        share=words.share(repair.probability),
        cautions=repair.cautions,
        spares=tuple(spare_line(spare) for spare in repair.spares),
        spent_minutes=round(repair.minutes, 2),
        spent_money=round(repair.cost, 2),
    )


def _kind(case: CaseOut, answer: AdviceAnswer) -> str:
    """Tell a proved repair from a vehicle that showed nothing, and that from a complaint that hides."""
    done = [stretch.repair_after.repair.result for stretch in case.stretches if stretch.repair_after]
    gone = done[-1:] == ["gone"]
    if answer.next.kind == "no_fault" and (gone or answer.no_fault < LIKELY):
        return "proved" if gone else "unshown"
    return answer.next.kind


def _verdict(kind: str, why: str, said: str) -> NextCard:
    title, text = VERDICTS.get(kind, (kind.replace("_", " "), ""))
    return NextCard(title, _sentence(why), kind, text=f"{said} {text}".strip())


def _sentence(text: str) -> str:
    plain = text.strip()
    return plain[:1].upper() + plain[1:] + ("" if plain.endswith((".", "?", "!")) or not plain else ".")
