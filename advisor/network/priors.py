"""Prior weights of hypotheses from part prevalences, and the mass that enumeration leaves out.

pi(h) = prod of odds over the causes of h / prod over all parts of (1 + s_i), where
p_i = 1 - exp(-sum x), p_im = p_i x_im / sum x, o_im = p_im / (1 - p_i), s_i = sum of o_im: at most one
mode per part, the normaliser running over all parts and not only over the hypotheses kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from advisor.network.events import EventMass, PlaceEvent, event_left, event_mass, mode_share
from advisor.network.sums import sums_without_each, symmetric_sums
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED, Bools, Floats, Ints, Worlds


@dataclass(frozen=True)
class Prior:
    """Root distribution of the network.

    Attributes:
        weights: Prior of each hypothesis, shape (H,); with `omitted` they sum to 1.
        omitted: Prior mass of all fault sets that are not enumerated and that no hypothesis stands for.
        omitted_with: Part of it that holds each cause, shape (C,).
        lumped: Part of `weights` that a hypothesis carries for other sets of its place, shape (H,).
        lumped_with: Mass of the sets stood for that hold each cause, shape (C,).
        able: For each symptom, mass of the sets not enumerated that are able to show it, whole and with each cause.
    """

    weights: Floats
    omitted: float
    omitted_with: Floats
    lumped: Floats | float = 0.0
    lumped_with: Floats | float = 0.0
    able: tuple[tuple[float, Floats], ...] = ()

    @cached_property
    def own(self) -> Floats:
        """Prior of each hypothesis as the exact set that it is, shape (H,)."""
        return np.maximum(self.weights - self.lumped, 0.0)

    @cached_property
    def unsolved(self) -> float:
        """Prior mass of all sets whose own likelihood nobody has computed."""
        return self.omitted + float(np.sum(self.lumped))

    @cached_property
    def unsolved_with(self) -> Floats:
        """Part of it that holds each cause, shape (C,)."""
        return self.omitted_with + self.lumped_with


def odds(prevalence: Floats, cause_part: Ints) -> Floats:
    """Odds o of each cause against its part being sound, from expected fault counts x now, shape (C,) each."""
    total = np.bincount(cause_part, prevalence)[cause_part]
    probability = -np.expm1(-total) * prevalence / np.where(total > 0.0, total, 1.0)
    return probability / np.exp(-total)


@dataclass(frozen=True)
class _Sets:
    """Masses of fault sets before the specials take their share, the parts' own and what events add.

    `o` are the causes' odds, `within` the share of each member's severities in its cause, shape (H, K).
    """

    worlds: Worlds
    o: Floats
    within: Floats
    events: Sequence[PlaceEvent]

    @cached_property
    def independent(self) -> Floats:
        """What each hypothesis has by its parts' own rates; these sum to 1 over all sets, shape (H,)."""
        sound = float(np.exp(-np.log1p(_by_part(self.worlds, self.o)).sum()))
        mass: Floats = (np.append(self.o, 1.0)[self.worlds.members] * self.within).prod(axis=1) * sound
        mass[[AS_DESIGNED, UNLISTED]] = 0.0
        return mass

    @cached_property
    def added(self) -> list[EventMass]:
        """What each event adds."""
        return [event_mass(self.worlds, self.o, self.within, event) for event in self.events]

    def unsolved(self, allowed: Bools) -> tuple[float, Floats]:
        """Mass of the sets of allowed causes, shape (C,), that are not enumerated, whole and with each cause."""
        rows = ~self.worlds.holds[:, ~allowed].any(axis=1)
        total, with_cause = self.omitted(np.where(allowed, self.o, 0.0), np.where(rows, self.independent, 0.0))
        for event, added in zip(self.events, self.added, strict=True):
            share = np.where(allowed, mode_share(self.o, self.worlds.cause_part, event), 0.0)
            kept, sizes = np.where(rows, added.kept, 0.0), range(2, len(event.parts) + 1)
            left, left_with = event_left(self.worlds, kept, share, event, sizes)
            total, with_cause = total + left, with_cause + left_with
        return total, with_cause

    def omitted(self, o: Floats, kept: Floats) -> tuple[float, Floats]:
        """Independent mass left out by `kept`: whole orders beyond K, and the sets of order 2 to K left out."""
        part_odds, depth = _by_part(self.worlds, o), self.worlds.members.shape[1]
        orders, sound = min(len(part_odds), depth + 12), self.independent[NONE]
        sums = symmetric_sums(part_odds, orders) * sound
        rest = sums_without_each(part_odds, orders)[self.worlds.cause_part] * sound
        total, with_cause = float(sums[depth + 1 :].sum()), o * rest[:, depth:].sum(axis=1)
        for k in range(2, min(depth, orders) + 1):
            mine = np.where(self.worlds.sizes == k, kept, 0.0)
            total += max(float(sums[k] - mine.sum()), 0.0)
            with_cause += np.maximum(o * rest[:, k - 1] - self.worlds.with_cause(mine), 0.0)
        return total, with_cause


def prior(  # noqa: PLR0913  what the definition of the root is made of
    worlds: Worlds,
    prevalence: Floats,
    *,
    as_designed: float,
    unlisted: float,
    events: Sequence[PlaceEvent] = (),
    needs: Bools | None = None,
) -> Prior:
    """Build the root distribution.

    A place event adds its mass to every set of two or more faults inside its place; a set of one is already in
    the parts' own rates.  A hypothesis that holds all parts of the place also carries what the event gives to sets of
    three and more that are not enumerated.

    Args:
        worlds: Hypotheses of C causes, closed under removal.
        prevalence: Expected faults of each severity present now, x, shape (V,).
        as_designed: Root mass of "works as designed".
        unlisted: Root mass of "something the model does not contain".
        events: What hits several parts of one place together.
        needs: Causes of which a set must hold one to show each symptom, shape (S, C).

    Raises:
        ValueError: a prevalence is negative or the root masses leave nothing for the rest.
    """
    if (prevalence < 0.0).any() or min(as_designed, unlisted) <= 0.0 or as_designed + unlisted >= 1.0:
        raise ValueError("prevalences must not be negative, root masses must leave room for faults")
    by_cause: Floats = np.bincount(worlds.severity_cause, prevalence, minlength=len(worlds.causes)).astype(np.float64)
    o, within = odds(by_cause, worlds.cause_part), _within(worlds, prevalence, by_cause)
    sets = _Sets(worlds, o, within, events)
    kept, lumped = sets.independent + sum(a.kept for a in sets.added), sum(a.lumped for a in sets.added)
    left, left_with = sets.omitted(o, sets.independent)
    scale = (1.0 - as_designed - unlisted) / (1.0 + sum(a.total for a in sets.added))
    weights = (kept + lumped) * scale
    weights[[AS_DESIGNED, UNLISTED]] = as_designed, unlisted
    root = Prior(
        weights,
        (left + sum(a.omitted for a in sets.added)) * scale,
        (left_with + sum(a.omitted_with for a in sets.added)) * scale,
        lumped * scale,
        sum(a.lumped_with for a in sets.added) * scale,
    )
    return root if needs is None else _with_able(root, sets, needs, scale)


def _by_part(worlds: Worlds, o: Floats) -> Floats:
    """Sum of the odds of each part's causes, shape (P,)."""
    return np.bincount(worlds.cause_part, o).astype(np.float64)


def _with_able(root: Prior, sets: _Sets, needs: Bools, scale: float) -> Prior:
    """Say how much of the mass that is not enumerated holds a needed cause, one entry per row of `needs`."""
    able = []
    for row in needs:
        unable, unable_with = (0.0, 0.0) if row.all() else sets.unsolved(~row)
        able.append(
            (
                max(root.unsolved - unable * scale, 0.0),
                np.maximum(root.unsolved_with - unable_with * scale, 0.0),
            )
        )
    return replace(root, able=tuple(able))


def _within(worlds: Worlds, prevalence: Floats, by_cause: Floats) -> Floats:
    """Share of each member's severities in its cause, 1 where there is no member, shape (H, K)."""
    below = np.append(0.0, np.cumsum(prevalence))
    mine = below[worlds.severities[:, :, 1]] - below[worlds.severities[:, :, 0]]
    whole = np.append(np.where(by_cause > 0.0, by_cause, 1.0), 1.0)[worlds.members]
    return np.where(worlds.members >= 0, mine / whole, 1.0)
