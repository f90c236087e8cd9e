"""Events of older forms, brought to today's form when they are read; the journal itself is never rewritten."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from advisor.contract.event import VERSION, Event
from advisor.errors import SchemaError

# Form → what makes an event of that form one of the next form.
UPGRADES: Mapping[int, Callable[[Event], Event]] = {}


def upgraded(event: Event, upgrades: Mapping[int, Callable[[Event], Event]] = UPGRADES, newest: int = VERSION) -> Event:
    """Give an event in the newest form; raises SchemaError for a form that this release does not know."""
    while event.v < newest and event.v in upgrades:
        event = replace(upgrades[event.v](event), v=event.v + 1)
    if event.v != newest:
        raise SchemaError(f"an event of form {event.v} was written by another release; this one reads form {newest}")
    return event
