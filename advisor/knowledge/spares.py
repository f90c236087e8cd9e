"""Numbers of spare parts: what replaces what, what fits still, what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.knowledge.documents import Spare


@dataclass(frozen=True)
class Bought:
    """A number as it is bought today, and the older ones that would still fit."""

    spare: Spare
    older: tuple[str, ...]


def current(spares: Mapping[str, Spare], number: str) -> tuple[Spare, ...]:
    """Follow a number to those that are bought today, each once, in the order of the file's `replaced_by`."""
    spare = spares[number]
    if not spare.replaced_by:
        return (spare,)
    return tuple(dict.fromkeys(last for other in spare.replaced_by for last in current(spares, other)))


def older(spares: Mapping[str, Spare], number: str) -> tuple[str, ...]:
    """Give the numbers that this one has replaced, also over others, and that may still be fitted in its place.

    One that was split is no stand-in for one of its pieces.
    """
    before = [s for s in spares.values() if s.replaced_by == (number,)]
    return tuple(dict.fromkeys(n for s in before for n in (*([s.number] if s.fits else []), *older(spares, s.number))))


def bought(spares: Mapping[str, Spare], number: str) -> tuple[Bought, ...]:
    """Give what is bought today for a number of any age; nothing where the list does not have it."""
    return tuple(Bought(s, older(spares, s.number)) for s in current(spares, number)) if number in spares else ()


def spares_for(spares: Mapping[str, Spare], part: str) -> tuple[Bought, ...]:
    """Give what is bought today for a part of a circuit."""
    numbers = [s.number for s in spares.values() if part in s.used_for]
    return tuple({b.spare.number: b for number in numbers for b in bought(spares, number)}.values())
