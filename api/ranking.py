"""Causes as bars, grouped by section as the hand repairs them: "the switch side"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.contract.answer import AdviceAnswer, CauseOut
from api import words

SHOWN_GROUPS = 4
SHOWN_ROWS = 5
LEAST_SHARE = 0.0005


@dataclass(frozen=True)
class Row:
    """One cause inside a group, in words; `off_chart` where the printed chart never names it; `why` line by line."""

    title: str
    share: str
    off_chart: bool
    why: tuple[str, ...] = ()


@dataclass(frozen=True)
class Bar:
    """A group of causes that lie in one section: share in words, bar length [percent of full width]."""

    title: str
    share: str
    length: float
    off_chart: bool
    rows: tuple[Row, ...]
    kind: str = "cause"


@dataclass(frozen=True)
class Ranking:
    """The bars, likeliest first: those in view, those folded away, and one sentence about the first."""

    lead: str
    first: tuple[Bar, ...]
    rest: tuple[Bar, ...]


def ranking(answer: AdviceAnswer) -> Ranking:
    """Group the causes of an answer by the section that they lie in."""
    groups: dict[str, list[CauseOut]] = {}
    for cause in answer.causes:
        groups.setdefault(cause.repair_group or cause.repair or cause.cause, []).append(cause)
    titles = {repair.repair: repair.title for repair in answer.repairs}
    why = words_of(answer)
    sized = [(sum(cause.probability for cause in causes), _title(causes, titles), causes) for causes in groups.values()]
    bars = [(size, _bar(title, size, causes, why)) for size, title, causes in sized if size >= LEAST_SHARE]
    bars += [
        (size, Bar(title, words.share(size), 100 * size, False, (), kind)) for kind, title, size in _beside(answer)
    ]
    ordered = [bar for _, bar in sorted(bars, key=lambda item: -item[0])]
    lead = f"Most likely: {ordered[0].title}, {ordered[0].share}." if ordered else ""
    return Ranking(lead, tuple(ordered[:SHOWN_GROUPS]), tuple(ordered[SHOWN_GROUPS:]))


def first_of(answer: AdviceAnswer) -> str:
    """Name what is likeliest, and how likely."""
    return ranking(answer).lead.removeprefix("Most likely: ").removesuffix(".")


def words_of(answer: AdviceAnswer) -> dict[str, tuple[str, ...]]:
    """Say for each cause that is explained what every finding does to it."""
    explained = answer.reasons.causes if answer.reasons else ()
    return {item.cause: tuple(words.reason(r.decibans_in_turn, r.text) for r in item.findings) for item in explained}


def _beside(answer: AdviceAnswer) -> tuple[tuple[str, str, float], ...]:
    rows = (
        ("none", "no fault shows now", answer.no_fault),
        ("none", "works as designed", answer.as_designed),
        ("unlisted", "something that this circuit's file does not hold", answer.unlisted),
    )
    return tuple(row for row in rows if row[2] >= LEAST_SHARE)


def _title(causes: list[CauseOut], repairs: dict[str, str]) -> str:
    """Name a group by the part or the connector that its causes share; a repair's title is the last resort."""
    first = causes[0]
    if len(causes) == 1:
        return first.title
    # Contacts of one connector are named "CONNECTOR, contact CAVITY: MODE".
    shared = {cause.title.rpartition(": ")[0].partition(", contact ")[0] for cause in causes}
    return shared.pop() if len(shared) == 1 else first.repair_group or repairs.get(first.repair or "", first.title)


def _bar(title: str, size: float, causes: list[CauseOut], why: Mapping[str, tuple[str, ...]]) -> Bar:
    seen = [cause for cause in causes if cause.probability >= LEAST_SHARE] or causes[:1]
    seen, folded = seen[:SHOWN_ROWS], seen[SHOWN_ROWS:]
    # What the heading says already is not said again in each line below it.
    rows = tuple(
        Row(
            cause.title.removeprefix(title).lstrip(",: ") or cause.title,
            words.share(cause.probability),
            cause.on_chart is False,
            why.get(cause.cause, ()),
        )
        for cause in seen
    )
    off_chart = all(cause.on_chart is False for cause in (*seen, *folded))
    if folded:
        together = words.share(sum(cause.probability for cause in folded))
        rows += (Row(f"{len(folded)} more, together", together, False),)
    return Bar(title, words.share(size), 100 * size, off_chart, rows)
