"""Prior weights of hypotheses from part prevalences, and the mass that enumeration leaves out.

pi(h) = prod of odds over the causes of h / prod over all parts of (1 + s_i), where
p_i = 1 - exp(-sum x), p_im = p_i x_im / sum x, o_im = p_im / (1 - p_i), s_i = sum of o_im: at most one
mode per part, the normaliser running over all parts and not only over the hypotheses kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED, Floats, Ints, Worlds


@dataclass(frozen=True)
class Prior:
    """Root distribution of the network.

    Attributes:
        weights: Prior of each hypothesis, shape (H,); with `omitted` they sum to 1.
        omitted: Prior mass of all fault sets that are not enumerated.
        omitted_with: Part of it that holds each cause, shape (C,).
    """

    weights: Floats
    omitted: float
    omitted_with: Floats


@dataclass(frozen=True)
class PlaceEvent:
    """Water, crushing, heat or a rodent at one place: each of its parts is hit with the same chance.

    Attributes:
        prevalence: Expected events present now, nu.
        attack: Chance that a part of the place is hit, a.
        parts: Indices of the parts of the place.
    """

    prevalence: float
    attack: float
    parts: tuple[int, ...]

    def mass(self, size: int) -> float:
        """Probability of one exact set of `size` hit parts: nu a^k (1 - a)^(n - k)."""
        return self.prevalence * self.attack**size * (1.0 - self.attack) ** (len(self.parts) - size)


def odds(prevalence: Floats, cause_part: Ints) -> Floats:
    """Odds o of each cause against its part being sound, from expected fault counts x now, shape (C,) each."""
    total = np.bincount(cause_part, prevalence)[cause_part]
    probability = -np.expm1(-total) * prevalence / np.where(total > 0.0, total, 1.0)
    return probability / np.exp(-total)


def symmetric_sums(part_odds: Floats, size: int) -> Floats:
    """Elementary symmetric sums e_0 ... e_size of the parts' odds: mass of exactly k faulty parts, unnormalised.

    The recurrence only adds, so nothing cancels.
    """
    sums = np.zeros(size + 1)
    sums[0] = 1.0
    for value in part_odds:
        sums[1:] += value * sums[:-1].copy()
    return sums


def pair_mass(o: Floats, cause_part: Ints, events: Sequence[PlaceEvent]) -> Floats:
    """Prior mass of each pair of causes, but for a common factor, shape (C, C)."""
    mass: Floats = np.outer(o, o)
    for event in events:
        share = _mode_share(o, cause_part, event)
        mass += event.mass(2) * np.outer(share, share)
    return mass


def _mode_share(o: Floats, cause_part: Ints, event: PlaceEvent) -> Floats:
    """Share of each cause in its part's faults, zero outside the event's place, shape (C,)."""
    part_odds = np.bincount(cause_part, o)[cause_part]
    share: Floats = np.where(np.isin(cause_part, event.parts), o / np.where(part_odds > 0.0, part_odds, 1.0), 0.0)
    return share


def prior(
    worlds: Worlds,
    prevalence: Floats,
    *,
    as_designed: float,
    unlisted: float,
    events: Sequence[PlaceEvent] = (),
) -> Prior:
    """Build the root distribution.

    A place event adds its mass to every set of two or more faults inside its place; a set of one is already in
    the parts' own rates.

    Args:
        worlds: Hypotheses of C causes, closed under removal.
        prevalence: Expected faults of each severity present now, x, shape (V,).
        as_designed: Root mass of "works as designed".
        unlisted: Root mass of "something the model does not contain".
        events: What hits several parts of one place together.

    Raises:
        ValueError: a prevalence is negative or the root masses leave nothing for the rest.
    """
    if (prevalence < 0.0).any() or min(as_designed, unlisted) <= 0.0 or as_designed + unlisted >= 1.0:
        raise ValueError("prevalences must not be negative, root masses must leave room for faults")
    by_cause: Floats = np.bincount(worlds.severity_cause, prevalence, minlength=len(worlds.causes)).astype(np.float64)
    o = odds(by_cause, worlds.cause_part)
    part_odds: Floats = np.bincount(worlds.cause_part, o).astype(np.float64)
    scale = (1.0 - as_designed - unlisted) * float(np.exp(-np.log1p(part_odds).sum()))
    below = np.append(0.0, np.cumsum(prevalence))
    within = below[worlds.severities[:, :, 1]] - below[worlds.severities[:, :, 0]]
    per_fault = np.append(o / np.where(by_cause > 0.0, by_cause, 1.0), 1.0)[worlds.members] * within
    weights = np.where(worlds.members >= 0, per_fault, 1.0).prod(axis=1) * scale
    weights[[NONE, AS_DESIGNED, UNLISTED]] = scale, as_designed, unlisted
    omitted, omitted_with = _omitted(worlds, o, part_odds, weights / scale)
    independent = Prior(weights, omitted * scale, omitted_with * scale)
    return _with_events(worlds, independent, o, events, 1.0 - as_designed - unlisted)


def _with_events(worlds: Worlds, base: Prior, o: Floats, events: Sequence[PlaceEvent], room: float) -> Prior:
    """Add the events' sets, kept or left out, and renormalise what is not as designed or unlisted."""
    sizes, depth = (worlds.members >= 0).sum(axis=1), worlds.members.shape[1]
    below = np.where(o > 0.0, o, 1.0)
    fraction = np.ones(len(sizes))  # of its causes' mass that a set of coarse or fine severities carries
    np.divide(base.weights, base.weights[NONE] * np.append(below, 1.0)[worlds.members].prod(axis=1), out=fraction)
    added, left_out, left_with = np.zeros(len(sizes)), 0.0, np.zeros(len(o))
    for event in events:
        share, n = _mode_share(o, worlds.cause_part, event), len(event.parts)
        kept = np.append(share, 1.0)[worlds.members].prod(axis=1) * fraction
        kept *= np.array([0.0, 0.0, *(event.mass(k) for k in range(2, depth + 1))])[sizes]
        all_sets = event.prevalence - event.mass(0) - n * event.mass(1)
        with_part = event.prevalence * event.attack - event.mass(1)
        added += kept
        left_out += max(all_sets - float(kept.sum()), 0.0)
        left_with += np.maximum(share * with_part - worlds.with_cause(kept), 0.0)
    total = 1.0 + float(added.sum()) + left_out
    weights = (base.weights + room * added) / total
    weights[[AS_DESIGNED, UNLISTED]] = base.weights[[AS_DESIGNED, UNLISTED]]
    return Prior(weights, (base.omitted + room * left_out) / total, (base.omitted_with + room * left_with) / total)


def _omitted(worlds: Worlds, o: Floats, part_odds: Floats, kept: Floats) -> tuple[float, Floats]:
    """Omitted odds mass, and with each cause: whole orders beyond K, and the sets of order 2 to K left out."""
    sizes = (worlds.members >= 0).sum(axis=1)
    depth = worlds.members.shape[1]
    orders = min(len(part_odds), depth + 12)
    sums = symmetric_sums(part_odds, orders)
    rest = _without_each(part_odds, orders)[worlds.cause_part]
    total, with_cause = float(sums[depth + 1 :].sum()), o * rest[:, depth:].sum(axis=1)
    for k in range(2, depth + 1):
        mine = np.where(sizes == k, kept, 0.0)
        total += max(float(sums[k] - mine.sum()), 0.0)
        with_cause += np.maximum(o * rest[:, k - 1] - worlds.with_cause(mine), 0.0)
    return total, with_cause


def _without_each(part_odds: Floats, size: int) -> Floats:
    """`symmetric_sums` of all parts but one, for each part, shape (P, size + 1); nothing is divided out again."""
    sums = np.zeros((len(part_odds), size + 1))
    sums[:, 0] = 1.0
    for part, value in enumerate(part_odds):
        others = np.full(len(part_odds), value)
        others[part] = 0.0
        sums[:, 1:] += others[:, None] * sums[:, :-1].copy()
    return sums
