"""Getting at places: a tree in which opening costs once, closing being charged with the opening."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.knowledge.documents import Place
from advisor.knowledge.places import path


def access_minutes(places: Mapping[str, Place], place: str, opened: frozenset[str]) -> float:
    """Minutes to open what is still closed on the way to a place, and to close it again."""
    closed = [places[step] for step in path(places, place) if step not in opened]
    return sum(step.open_minutes + step.close_minutes for step in closed)
