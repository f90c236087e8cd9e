"""Journals for tests: short to write, random, and a slow twin of what they mean."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from advisor.contract.event import Event

AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
RELEASE = {"knowledge": "sha256:" + "0" * 64, "priors": "handbook-1", "engine": "0.1.0"}


def opened(**body: object) -> Event:
    """Give the first event of a case of the belt reminder."""
    told = {"circuit": "belt-reminder", "symptom": "lamp-stays-dark", "release": RELEASE, **body}
    return Event(1, 1, AT, "anna", "opened", {key: value for key, value in told.items() if value is not None})


def journal(*events: tuple[str, dict[str, object]]) -> tuple[Event, ...]:
    """Give a journal of (kind, body) after its opening, a minute apart."""
    rest = (
        Event(1, seq, AT + timedelta(minutes=seq), "anna", kind, body) for seq, (kind, body) in enumerate(events, 2)
    )
    return (opened(), *rest)


def random_journal(rng: np.random.Generator) -> tuple[Event, ...]:
    """Give a journal of up to ten random events, which may not stand."""
    count = int(rng.integers(1, 11))
    return journal(*(_event(rng, seq) for seq in range(2, count + 2)))


def _event(rng: np.random.Generator, seq: int) -> tuple[str, dict[str, object]]:
    kind = str(rng.choice(["finding", "finding", "declined", "retraction", "repair", "put-on", "put-back", "note"]))
    one_of_two = str(rng.choice(["a", "b"]))
    return kind, {
        "finding": {"test": one_of_two, "outcome": str(rng.choice(["x", "y"]))},
        "declined": {"test": one_of_two},
        "retraction": {"of": int(rng.integers(1, seq + 1))},
        "repair": {"repair": "r", "result": "stays"},
        "put-on": {"id": one_of_two, "what": "jumper"},
        "put-back": {"id": one_of_two},
        "note": {"text": "n"},
    }[kind]


def counts(events: Sequence[Event], seq: int) -> bool:
    """Tell whether an event counts: no later event that counts retracts it."""
    later = [event for event in events if event.seq > seq and event.kind == "retraction" and event.body["of"] == seq]
    return not any(counts(events, event.seq) for event in later)


def stands(events: Sequence[Event]) -> bool:
    """Tell whether a journal without closings stands, rule by rule."""
    return _retractions_stand(events) and slow_put_on(events) is not None


def _retractions_stand(events: Sequence[Event]) -> bool:
    for place, event in enumerate(events):
        if event.kind == "retraction":
            before = {earlier.seq: earlier for earlier in events[:place]}
            of = event.body["of"]
            if of not in before or before[of].kind == "opened" or not counts(events[:place], of):
                return False
    return True


def slow_put_on(events: Sequence[Event]) -> list[str] | None:
    """Give what is on, sorted; None where something goes on twice, or off without being on."""
    on: list[str] = []
    for event in events:
        if event.kind not in ("put-on", "put-back") or not counts(events, event.seq):
            continue
        if (event.kind == "put-back") != (event.body["id"] in on):
            return None
        (on.remove if event.kind == "put-back" else on.append)(event.body["id"])
    return sorted(on)


def slow_findings(events: Sequence[Event]) -> list[tuple[int, tuple[str, str]]]:
    """Give the events whose findings count, by asking of each whether a later one in its stretch is about the same."""
    kept = [event for event in events if counts(events, event.seq)]
    found = []
    for place, event in enumerate(kept):
        if event.kind not in ("opened", "finding", "declined"):
            continue
        about = _about(event)
        rest = kept[place + 1 :]
        end = next((n for n, later in enumerate(rest) if later.kind == "repair"), len(rest))
        if not any(later.kind in ("finding", "declined") and _about(later) == about for later in rest[:end]):
            found.append((event.seq, about))
    return found


def _about(event: Event) -> tuple[str, str]:
    return ("symptom", event.body["symptom"]) if "symptom" in event.body else ("test", event.body["test"])
