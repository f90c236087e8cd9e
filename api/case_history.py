"""The journal of a case as a person reads it: what was entered together as one line, with the way to take it back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from advisor.contract.answer import AdviceAnswer
from advisor.contract.case_answer import CaseOut, EventOut
from api.case_words import Names, said

NOT_UNDONE = ("opened", "closed", "reopened", "retraction", "comeback")
# What an entry is called by, the first that it holds; what went along with it is folded under it.
MAIN = ("closed", "reopened", "repair", "finding", "declined", "authorised", "work-declined", "not-fit", "fit")
STRONG, LEAST = 10.0, 1.0
"""Weights of evidence that are called strong, and the least that is told [decibans]; I. J. Good, from memory."""
TOLD_CAUSES = 2


@dataclass(frozen=True)
class Entry:
    """What was entered at once: its words, what went with it, what it moved; `of` are the events to take back."""

    at: datetime
    by: str
    text: str
    beside: tuple[str, ...]
    moved: tuple[str, ...]
    of: tuple[int, ...]


@dataclass(frozen=True)
class History:
    """Entries that count, newest first; those taken back, whose `of` brings them back; the one that undo takes."""

    entries: tuple[Entry, ...]
    gone: tuple[Entry, ...]
    undo: Entry | None


def history(case: CaseOut, names: Names, moved: Mapping[int, tuple[str, ...]]) -> History:
    """Read the journal of a case; `moved` says of an event's finding what it moved."""
    writes = [list(rows) for _, rows in groupby(case.events, key=lambda event: (event.at, event.by))]
    back = _ways_back(case.events)
    entries, gone = [], []
    for rows in writes:
        kept = [event for event in rows if not event.retracted and event.kind != "retraction"]
        lost = [event for event in rows if event.retracted and event.seq in back]
        if kept:
            entries.append(_entry(kept, names, moved, tuple(e.seq for e in kept if e.kind not in NOT_UNDONE)))
        elif lost:
            gone.append(_entry(lost, names, {}, tuple(back[event.seq] for event in lost)))
    entries.reverse()
    return History(tuple(entries), tuple(reversed(gone)), next((entry for entry in entries if entry.of), None))


def moved_by(answer: AdviceAnswer, sources: Sequence[int]) -> dict[int, tuple[str, ...]]:
    """Say of each finding, named by its event, for and against which of the first causes it speaks most."""
    titles = {cause.cause: cause.title for cause in answer.causes}
    weights: dict[int, list[tuple[float, str]]] = {}
    for cause in answer.reasons.causes if answer.reasons else ():
        for row in cause.findings:
            decided = float("inf") if row.decibans_in_turn is None else row.decibans_in_turn
            weights.setdefault(sources[row.finding], []).append((decided, titles.get(cause.cause, cause.cause)))
    return {seq: _moved(rows) for seq, rows in weights.items()}


def _moved(rows: list[tuple[float, str]]) -> tuple[str, ...]:
    ordered = sorted(rows, key=lambda row: -abs(row[0]))
    told = [_weight(*row) for row in ordered if abs(row[0]) >= LEAST][:TOLD_CAUSES]
    return tuple(told) or ("says little of the likeliest causes",)


def _weight(decibans: float, title: str) -> str:
    if decibans == float("inf"):
        return f"decides on {title}"
    strength = "strongly " if abs(decibans) >= STRONG else ""
    return f"speaks {strength}{'for' if decibans > 0 else 'against'} {title}"


def _entry(rows: Sequence[EventOut], names: Names, moved: Mapping[int, tuple[str, ...]], of: tuple[int, ...]) -> Entry:
    main = min(rows, key=lambda event: MAIN.index(event.kind) if event.kind in MAIN else len(MAIN))
    beside = tuple(said(event, names) for event in rows if event is not main)
    return Entry(
        main.at, main.by, said(main, names), beside, () if main.kind == "opened" else moved.get(main.seq, ()), of
    )


def _ways_back(events: Iterable[EventOut]) -> dict[int, int]:
    """Map each event that was taken back to the retraction that did it."""
    return {
        int(str(event.body["of"])): event.seq for event in events if event.kind == "retraction" and not event.retracted
    }
