"""One test as the hands need it: set up, safety, place, red and black, what each answer means, the answers."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.contract.answer import AdviceAnswer, OutcomeOut, TestOut, TimedOut
from advisor.contract.case_bodies import PutOn
from advisor.contract.cautions import Caution
from advisor.contract.hands import Lead, leads, setup_lines
from advisor.knowledge.documents import Schematic
from api import words
from api.case_fields import UNITS
from api.drawings import Drawn, faces
from api.ranking import first_of


@dataclass(frozen=True)
class Button:
    """One answer: its outcome, its label with the range of readings, whether it is the good one."""

    outcome: str
    label: str
    range: str
    good: bool


@dataclass(frozen=True)
class StepCard:
    """Everything that the hands need for one test, and every way to answer it.

    `buttons` come from the top down, the good one last: it stands at the same height on every screen. `jumps` is the
    outcome of a reading that never settles. `apart` names what is on the vehicle and in the way of this test, `timed`
    how long the set-up holds by itself, `window` the same in words.
    """

    test: str
    title: str
    setup: tuple[str, ...]
    timed: TimedOut | None
    window: str
    apart: tuple[PutOn, ...]
    cautions: tuple[Caution, ...]
    place: str
    place_id: str
    probes: tuple[Lead, ...]
    faces: tuple[Drawn, ...]
    mirror_url: str
    mirrored: bool
    means: tuple[tuple[str, str], ...]
    buttons: tuple[Button, ...]
    jumps: str
    unit: str
    units: tuple[tuple[str, str], ...]
    cost: str
    minutes: float
    money: float


def step_card(
    test: TestOut, schematic: Schematic, after: Mapping[str, AdviceAnswer], put_on: Sequence[PutOn], *, mirrored: bool
) -> StepCard:
    """Make the card of a test, knowing the advice after each of its outcomes."""
    wanted = {*test.condition.unplug, *(("jumper",) if test.condition.jumper else ())}
    unit = test.outcomes[0].unit if test.outcomes else ""
    return StepCard(
        test=test.test,
        title=test.title,
        setup=setup_lines(test.condition.text, test.condition.unplug, schematic),
        timed=(timed := test.condition.timed),
        window=words.window(timed.start, timed.after_s, timed.until_s) if timed else "",
        apart=tuple(piece for piece in put_on if piece.id not in wanted),
        cautions=test.cautions,
        place=test.place.title if test.opens else "",
        place_id=test.place.id if test.opens else "",
        probes=leads(test.instrument, [(p.connector, p.cavity) for p in test.probe], test.condition.jumper, schematic),
        faces=faces(test, schematic, mirrored=mirrored),
        mirror_url=f"?pick={test.test}" + ("" if mirrored else "&mirror=1"),
        mirrored=mirrored,
        means=tuple((item.label, first_of(after[item.outcome])) for item in test.outcomes if item.outcome in after),
        buttons=_buttons(test),
        jumps=next((item.outcome for item in test.outcomes if not item.settles), ""),
        unit=unit,
        units=UNITS.get(unit, ()),
        cost=words.minutes(test.minutes) + (" with opening and closing" if test.opens else ""),
        minutes=round(test.minutes, 2),
        money=round(test.cost, 2),
    )


def _buttons(test: TestOut) -> tuple[Button, ...]:
    """Make one button per settled outcome; the good one comes last, next to the thumb."""
    made = [
        Button(
            outcome=item.outcome,
            label=item.label,
            # A label that names its volts needs no second range.
            range="" if re.search(r"\d", item.label) else words.span(item.low, item.high, item.unit),
            good=_holds(item, test.normal),
        )
        for item in reversed(test.outcomes)
        if item.settles
    ]
    return tuple(sorted(made, key=lambda button: button.good))


def _holds(outcome: OutcomeOut, value: float | None) -> bool:
    return (
        value is not None
        and (outcome.low is None or outcome.low <= value)
        and (outcome.high is None or value < outcome.high)
    )
