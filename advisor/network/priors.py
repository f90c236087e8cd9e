"""Prior weights of hypotheses from part prevalences, and the mass that enumeration leaves out.

pi(h) = prod of odds over the causes of h / prod over all parts of (1 + s_i), where
p_i = 1 - exp(-sum x), p_im = p_i x_im / sum x, o_im = p_im / (1 - p_i), s_i = sum of o_im: at most one
mode per part, the normaliser running over all parts and not only over the hypotheses kept.
"""

from __future__ import annotations

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


def prior(worlds: Worlds, prevalence: Floats, *, as_designed: float, unlisted: float) -> Prior:
    """Build the root distribution.

    Args:
        worlds: Hypotheses of C causes, closed under removal.
        prevalence: Expected faults of each severity present now, x, shape (V,).
        as_designed: Root mass of "works as designed".
        unlisted: Root mass of "something the model does not contain".

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
    return Prior(weights, omitted * scale, omitted_with * scale)


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
