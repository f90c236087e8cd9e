"""The way to a place: what is opened before what."""

from __future__ import annotations

from advisor.knowledge.documents import Schematic


def way_to(place: str, schematic: Schematic) -> tuple[str, ...]:
    """Give the places that are opened on the way to a place, outermost first."""
    chain: list[str] = []
    here = schematic.places.get(place)
    while here is not None:
        if here.open_minutes > 0:
            chain.insert(0, here.id)
        here = schematic.places.get(here.inside) if here.inside else None
    return tuple(chain)
