"""Where things sit: a tree of places, each opened through what it is inside of."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.knowledge.documents import Place


def path(places: Mapping[str, Place], place: str) -> tuple[str, ...]:
    """A place and everything that it is inside of, innermost first."""
    inside = places[place].inside
    return (place, *(path(places, inside) if inside else ()))


def cautions_at(places: Mapping[str, Place], place: str) -> tuple[str, ...]:
    """Ids of the cautions at a place and at everything that it is inside of, each once."""
    return tuple(dict.fromkeys(id for name in path(places, place) for id in places[name].cautions))
