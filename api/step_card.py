"""The next step as one card: set up, safety, place, red and black, good and bad, the answers."""

from __future__ import annotations

import re
from dataclasses import dataclass

from advisor.contract.answer import OutcomeOut, TestOut
from advisor.contract.cautions import Caution
from advisor.contract.hands import Lead, leads, setup_lines
from advisor.contract.typed import OVER_RANGE
from advisor.knowledge.documents import Schematic
from api import words
from api.case_query import CaseQuery, Step
from api.drawings import Drawn, faces


@dataclass(frozen=True)
class Button:
    """One answer: its label, its range of readings, whether it is the good one, where it leads."""

    label: str
    range: str
    good: bool
    url: str


@dataclass(frozen=True)
class TestCard:
    """Everything that the hands need for one test, and every way to answer it."""

    __test__ = False  # not a pytest class

    test: str
    title: str
    setup: tuple[str, ...]
    cautions: tuple[Caution, ...]
    place: str
    probes: tuple[Lead, ...]
    faces: tuple[Drawn, ...]
    mirror_url: str
    mirrored: bool
    buttons: tuple[Button, ...]
    unit: str
    over_url: str
    skip_url: str
    cost: str
    form: tuple[Step, ...]


def test_card(test: TestOut, schematic: Schematic, query: CaseQuery) -> TestCard:
    """Make the card of a test."""
    mirrored = query.view("mirror") == "1"
    answered = query.plus(*(_opened(test.place.id, schematic) if test.opens else ()))
    pick = {"pick": test.test}
    return TestCard(
        test=test.test,
        title=test.title,
        setup=setup_lines(test.condition.text, test.condition.unplug, schematic),
        cautions=test.cautions,
        place=test.place.title if test.opens else "",
        probes=leads(test.instrument, [(p.connector, p.cavity) for p in test.probe], test.condition.jumper, schematic),
        faces=faces(test, schematic, mirrored=mirrored),
        mirror_url=query.seen(**pick).url() if mirrored else query.seen(**pick, mirror="1").url(),
        mirrored=mirrored,
        buttons=_buttons(test, answered),
        unit=test.outcomes[0].unit if test.outcomes else "",
        over_url=answered.plus(("r", f"{test.test}~{OVER_RANGE[0]}")).url(),
        skip_url=query.plus(("skip", test.test)).url(),
        cost=words.minutes(test.minutes) + (" with opening and closing" if test.opens else ""),
        form=(*query.steps, *query.options),
    )


def answered(query: CaseQuery, reading: Step, place: str, schematic: Schematic) -> CaseQuery:
    """Give the case after a reading that was taken at a place, which is open from now on."""
    return query.plus(*_opened(place, schematic), reading)


def _opened(place: str, schematic: Schematic) -> tuple[Step, ...]:
    """Give the steps that note the places opened on the way to a place, outermost first."""
    chain: list[Step] = []
    here = schematic.places.get(place)
    while here is not None:
        if here.open_minutes > 0:
            chain.insert(0, ("open", here.id))
        here = schematic.places.get(here.inside) if here.inside else None
    return tuple(chain)


def _buttons(test: TestOut, answered: CaseQuery) -> tuple[Button, ...]:
    """Make one button per outcome; the good one is always the first, so that the hand finds it."""
    made = [
        Button(
            label=item.label,
            # A label that names its volts needs no second range.
            range=""
            if re.search(r"\d", item.label) or not item.settles
            else words.span(item.low, item.high, item.unit),
            good=_holds(item, test.normal),
            url=answered.plus(("t", f"{test.test}~{item.outcome}")).url(),
        )
        for item in test.outcomes
    ]
    return tuple(sorted(made, key=lambda button: not button.good))


def _holds(outcome: OutcomeOut, value: float | None) -> bool:
    if value is None or not outcome.settles:
        return False
    return (outcome.low is None or outcome.low <= value) and (outcome.high is None or value < outcome.high)
