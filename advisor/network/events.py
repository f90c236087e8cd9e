"""What hits several parts of one place together, and the mass that it gives to sets of faults.

An event of prevalence nu hits each of the n parts of its place with the same chance a, whatever it does to the
others: an exact set of k parts has nu a^k (1 - a)^(n - k).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.network.sums import sums_without_each, symmetric_sums
from advisor.network.worlds import Floats, Ints, Worlds


@dataclass(frozen=True)
class PlaceEvent:
    """Water, crushing, heat or a rodent at one place: each of its parts is hit with the same chance.

    Attributes:
        prevalence: Expected events present now, nu.
        attack: Chance that a part of the place is hit, a.
        parts: Indices of the n parts of the place.
    """

    prevalence: float
    attack: float
    parts: tuple[int, ...]

    def mass(self, size: int) -> float:
        """Probability of one exact set of `size` hit parts: nu a^k (1 - a)^(n - k)."""
        return self.prevalence * self.attack**size * (1.0 - self.attack) ** (len(self.parts) - size)


@dataclass(frozen=True)
class EventMass:
    """What one event adds, before all is normalised.

    Attributes:
        kept: To each hypothesis, for its own set, shape (H,).
        lumped: To each hypothesis that stands for the place's sets of three and more that are not enumerated,
            shape (H,).
        lumped_with: Mass of the sets stood for that hold each cause, shape (C,).
        omitted: Mass of the sets that nothing stands for.
        omitted_with: Part of it that holds each cause, shape (C,).
    """

    kept: Floats
    lumped: Floats
    lumped_with: Floats
    omitted: float
    omitted_with: Floats

    @property
    def total(self) -> float:
        """All sets of two and more."""
        return float(self.kept.sum()) + float(self.lumped.sum()) + self.omitted


def mode_share(o: Floats, cause_part: Ints, event: PlaceEvent) -> Floats:
    """Share of each cause in its part's faults, zero outside the event's place, shape (C,)."""
    part_odds = np.bincount(cause_part, o)[cause_part]
    share: Floats = np.where(np.isin(cause_part, event.parts), o / np.where(part_odds > 0.0, part_odds, 1.0), 0.0)
    return share


def set_mass(o: Floats, cause_part: Ints, events: Sequence[PlaceEvent], sets: Ints) -> Floats:
    """Prior mass of sets of k causes of different parts, shape (N, k), but for a common factor, shape (N,)."""
    mass: Floats = o[sets].prod(axis=1)
    for event in events:
        mass = mass + event.mass(sets.shape[1]) * mode_share(o, cause_part, event)[sets].prod(axis=1)
    return mass


def event_mass(worlds: Worlds, o: Floats, within: Floats, event: PlaceEvent) -> EventMass:
    """Give an event's sets of two and more to the hypotheses that are them, and the rest to what stands for it.

    A hypothesis that holds every part of the place stands for all sets of three and more that are not enumerated;
    several of them share by how usual their members' modes and severities are.

    Args:
        worlds: Hypotheses of C causes.
        o: Odds of each cause, shape (C,).
        within: Share of each member's severities in its cause, 1 where there is no member, shape (H, K).
        event: What hits the place.
    """
    share, sizes, n = mode_share(o, worlds.cause_part, event), worlds.sizes, len(event.parts)
    usual = np.append(share, 1.0)[worlds.members] * within
    by_size = np.array([0.0, 0.0, *(event.mass(k) for k in range(2, n + 1))])
    kept = usual.prod(axis=1) * by_size[np.minimum(sizes, n)]
    pairs = event_left(worlds, kept, share, event, range(2, 3))
    more = event_left(worlds, kept, share, event, range(3, n + 1))
    fallible = len(np.intersect1d(event.parts, worlds.cause_part))
    whole = (sizes == fallible) & (sizes > 2) & (kept > 0.0)
    stands = np.where(whole, np.where(worlds.members >= 0, usual, 0.0).sum(axis=1), 0.0)
    if not whole.any():
        return EventMass(kept, stands, np.zeros(len(o)), pairs[0] + more[0], pairs[1] + more[1])
    return EventMass(kept, more[0] * stands / stands.sum(), more[1], *pairs)


def event_left(worlds: Worlds, kept: Floats, share: Floats, event: PlaceEvent, sizes: range) -> tuple[float, Floats]:
    """Mass of an event's sets of some sizes that are not kept, whole and with each cause, shape (C,).

    Args:
        worlds: Hypotheses of C causes.
        kept: What the event gives to each hypothesis, shape (H,).
        share: Of each cause in its part's faults, zero where sets that hold it do not count, shape (C,).
        event: What hits the place.
        sizes: Numbers of faults.
    """
    parts = np.array(event.parts)
    here = [worlds.cause_part == part for part in parts]
    counted = np.array([share[mine].sum() if mine.any() else 1.0 for mine in here])
    mass = np.array([event.mass(k) if k in sizes else 0.0 for k in range(len(parts) + 1)])
    holding = np.zeros(int(worlds.cause_part.max()) + 1)
    inside = np.isin(parts, worlds.cause_part)
    holding[parts[inside]] = (sums_without_each(counted, len(parts))[:, :-1] @ mass[1:])[inside]
    mine = np.where(np.isin(worlds.sizes, sizes), kept, 0.0)
    every = float(symmetric_sums(counted, len(parts)) @ mass)
    with_cause = share * holding[worlds.cause_part] - worlds.with_cause(mine)
    return max(every - float(mine.sum()), 0.0), np.maximum(with_cause, 0.0)
