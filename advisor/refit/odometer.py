"""Odometers of one vehicle over its orders: which readings cannot stand beside the others."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from advisor.units import DAYS_PER_YEAR, KM_PER_MILE

USUAL_KM_PER_DAY = 240.0
"""Where a vehicle's age is not known: a delivery van's day; common practice, no source."""
JUMP = 5.0
"""So many times its own usual way a day is more than any vehicle goes: judgement, no source."""
_MILES_TAKEN = (KM_PER_MILE / 1.08, KM_PER_MILE * 1.08)


@dataclass(frozen=True)
class Read:
    """One reading: day [days], odometer [km], age [years, NaN where unknown], and the line where it stands."""

    day: float
    km: float
    years: float
    line: int


@dataclass(frozen=True)
class Misread:
    """A reading that does not fit: its line, whether it goes backwards or mixes units, and in words."""

    line: int
    name: str
    detail: str


def misread(readings: Sequence[Read]) -> list[Misread]:
    """Name the fewest readings without which an odometer never goes backwards, and those that jump as miles do."""
    ordered = sorted(readings, key=lambda r: (r.day, r.km, r.line))
    kept = _kept(ordered)
    found: list[Misread] = []
    for place, reading in enumerate(ordered):
        if place not in kept:
            before = max((i for i in kept if i < place), default=None)
            after = min((i for i in kept if i > place), default=None)
            found += _backwards(
                reading,
                None if before is None else ordered[before],
                None if after is None else ordered[after],
            )
    return found + _jumps([ordered[place] for place in sorted(kept)])


def _kept(ordered: Sequence[Read]) -> frozenset[int]:
    """Give the places of as many readings as can stand; of two ways to choose them, that with fewer jumps."""
    forwards = _longest_rising([reading.km for reading in ordered])
    last = len(ordered) - 1
    backwards = frozenset(last - place for place in _longest_rising([-reading.km for reading in reversed(ordered)]))
    return min((forwards, backwards), key=lambda kept: len(_jumps([ordered[place] for place in sorted(kept)])))


def _longest_rising(values: Sequence[float]) -> frozenset[int]:
    """Give the places of a longest subsequence that never falls.

    References:
        M. L. Fredman, "On computing the length of longest increasing subsequences", Discrete Mathematics 11, 1975.
    """
    tails: list[float] = []
    ends: list[int] = []
    before: list[int] = []
    for place, value in enumerate(values):
        length = bisect_right(tails, value)
        before.append(ends[length - 1] if length else -1)
        tails[length:] = [value, *tails[length + 1 :]]
        ends[length:] = [place, *ends[length + 1 :]]
    chain, place = set(), ends[-1] if ends else -1
    while place >= 0:
        chain.add(place)
        place = before[place]
    return frozenset(chain)


def _backwards(reading: Read, before: Read | None, after: Read | None) -> list[Misread]:
    if before is not None and before.km > reading.km:
        other, where = before, "earlier"
    else:
        assert after is not None  # else the reading could be kept
        other, where = after, "later"
    detail = f"{reading.km:,.0f} km does not fit {other.km:,.0f} km in line {other.line}, which is {where}"
    found = [Misread(reading.line, "odometer-backwards", detail)]
    low = before.km if before else 0.0
    for factor, said in ((KM_PER_MILE, "miles among kilometres"), (1.0 / KM_PER_MILE, "kilometres among miles")):
        far = _most(before, reading) if before else float("inf")
        high = min(after.km, far) if after else far
        if low <= reading.km * factor <= high:
            found.append(Misread(reading.line, "units-mixed", f"would fit as {said}"))
    return found


def _jumps(kept: Sequence[Read]) -> list[Misread]:
    """Compare each reading with the last good one before it."""
    found: list[Misread] = []
    before: Read | None = None
    for reading in kept:
        if before is not None and reading.km > _most(before, reading):
            ratio = reading.km / before.km if before.km else float("inf")
            mixed = _MILES_TAKEN[0] <= ratio <= _MILES_TAKEN[1]
            what = "as miles to kilometres" if mixed else "which no vehicle drives"
            detail = f"{before.km:,.0f} km in line {before.line}, then {reading.km:,.0f} km: {ratio:.2f} times, {what}"
            found.append(Misread(reading.line, "units-mixed" if mixed else "odometer-jumps", detail))
        else:
            before = reading
    return found


def _most(before: Read, reading: Read) -> float:
    """Give the highest odometer [km] that a vehicle can have come to since its last reading."""
    known = before.years > 0.0  # false for NaN
    usual = before.km / (before.years * DAYS_PER_YEAR) if known else USUAL_KM_PER_DAY
    return before.km + JUMP * max(usual, USUAL_KM_PER_DAY / 4) * max(reading.day - before.day, 1.0) + 500.0
