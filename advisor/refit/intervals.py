"""How well orders determine the factors: data augmentation on patterns, and a closed form beside it.

A gamma interval around the best fit takes the shared-out orders as if each had been seen; it is too narrow.  Data
augmentation (M. Tanner, W. Wong, "The calculation of posterior distributions by data augmentation", Journal of the
American Statistical Association 82, 1987, from memory) draws which fault each order was about, then the factors given
that, in turn.  The draw of one kind of factor is exact for single faults; sets of several faults, about one in a
hundred, are taken at the last draw of their other factors.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import special, stats  # type: ignore[import-untyped]  # it ships no types

from advisor.network.worlds import Bools, Floats, Ints
from advisor.refit.counted import Counted
from advisor.refit.fitting import Gamma, orders, scored, shared
from advisor.refit.sums import binned

DRAWS = 300
ONE_BY_ONE = 30
"""Orders of a pattern up to which their faults are drawn one by one."""
LEVEL = 0.9
HANDBOOK_BELOW = 0.1
"""Where orders take away less than this share of the prior variance, the handbook speaks and not they."""


@dataclass(frozen=True, eq=False)
class Known:
    """What is known of some factors: median, lower and upper end of a 90 % interval, and what of it orders say.

    Attributes:
        middle: Shape (K,).
        low: Shape (K,).
        high: Shape (K,).
        learned: 1 - posterior over prior variance of the logarithm, not below 0, shape (K,).
    """

    middle: Floats
    low: Floats
    high: Floats
    learned: Floats

    @property
    def from_handbook(self) -> Bools:
        """Whether orders say next to nothing, shape (K,)."""
        handbook: Bools = self.learned < HANDBOOK_BELOW
        return handbook


def drawn(counted: Counted, before: Gamma, start: Floats, seed: int, draws: int = DRAWS) -> Floats:
    """Draws of the factors given the patterns, shape (draws, J); equal seeds give equal draws.

    Args:
        counted: Patterns.
        before: Gamma of each factor.
        start: Factors to begin from, shape (J,): the best fit.
        seed: Of the random numbers.
        draws: How many to keep; a quarter as many are thrown away before.
    """
    chain, factors, kept = _Chain(counted, before, np.random.default_rng(seed)), start, []
    for _ in range(draws // 4 + draws):
        factors = chain.moved(factors)
        kept.append(factors)
    return np.array(kept[-draws:])


@dataclass(frozen=True, eq=False)
class _Chain:
    counted: Counted
    before: Gamma
    rng: np.random.Generator

    @cached_property
    def _many(self) -> Mapping[int, slice]:
        """Entries of `share` of each pattern with too many orders to draw one by one."""
        ends, count = self.counted.share.indptr, self.counted.count
        return {int(n): slice(int(ends[n]), int(ends[n + 1])) for n in np.flatnonzero(count > ONE_BY_ONE)}

    @cached_property
    def _single(self) -> Ints:
        """Pattern of each order that is drawn by itself."""
        few = np.where(self.counted.count > ONE_BY_ONE, 0, self.counted.count).astype(np.intp)
        return np.repeat(np.arange(len(few)), few)

    def moved(self, factors: Floats) -> Floats:
        """Draw faults and exposures, then each kind of factor given them and the others."""
        counted, found = self.counted, shared(self.counted, factors)
        mass, faults = self._faults(orders(self.counted, found))
        happened = counted.every_degree.T @ mass
        exposure = counted.exposure if counted.exposure is not None else self._exposure(faults, found.whole)
        usual = counted.usual_cells.T @ exposure
        for kind in np.unique(counted.block):
            terms = np.exp(counted.every_degree @ np.log(factors))
            due = (counted.every_degree.T @ (usual * terms)) / factors
            new = self.rng.gamma(self.before.shape + happened) / (self.before.rate + due)
            factors = np.where(counted.block == kind, new, factors)
        return factors if counted.exposure is not None else self._scaled(factors)

    def _scaled(self, factors: Floats) -> Floats:
        """Move all causes' own factors together, along which nothing is learned but from the prior, in one draw.

        J. Liu, C. Sabatti, "Generalised Gibbs sampler", Biometrika 87, 2000 (from memory): without such a move the
        chain would go along this line in small steps.
        """
        own, before = self.counted.block == 0, self.before
        scale = self.rng.gamma(before.shape[own].sum()) / float(before.rate[own] @ factors[own])
        return np.where(own, factors * scale, factors)

    def _exposure(self, faults: Floats, whole: Floats) -> Floats:
        """Orders that handbook rates would give: a gamma variable when nothing is known of it beforehand."""
        some = faults > 0.0
        return np.where(some, self.rng.gamma(np.where(some, faults, 1.0)) / whole, 0.0)

    def _faults(self, orders: Floats) -> tuple[Floats, Floats]:
        """Draw the term of each order; give the orders of each cell, shape (K,), and of each stratum that had one."""
        counted = self.counted
        chosen = np.zeros(len(orders))
        ends = np.concatenate([[0.0], np.cumsum(orders)])
        starts = ends[counted.share.indptr[:-1]]
        at = starts[self._single] + self.rng.random(len(self._single)) * counted.count[self._single]
        place = np.searchsorted(ends, at, side="right") - 1
        mine = place < counted.share.indptr[1:][self._single]  # beyond lies what no listed fault explains
        np.add.at(chosen, place[mine], 1.0)
        for n, entries in self._many.items():
            p = orders[entries] / counted.count[n]
            chosen[entries] = self.rng.multinomial(int(counted.count[n]), np.append(p, max(1.0 - p.sum(), 0.0)))[:-1]
        cells = counted.share_cells.shape[1]
        strata = binned(counted.stratum[counted.row_of], chosen, counted.usual.shape[0])
        return binned(counted.cell, chosen, cells), strata


def known(draws: Floats, variance_before: Floats) -> Known:
    """Summarise draws of K factors, shape (draws, K), against the prior variance of their logarithms, shape (K,)."""
    low, middle, high = np.quantile(draws, [(1 - LEVEL) / 2, 0.5, (1 + LEVEL) / 2], axis=0)
    learned = np.maximum(1.0 - np.log(draws).var(axis=0) / variance_before, 0.0)
    return Known(middle, low, high, learned)


def closed_form(counted: Counted, before: Gamma, factors: Floats, combine: Floats) -> Known:
    """The same from corrected information: gamma variables whose shape is one over the variance of the logarithm.

    Information on the logarithms is diag(a) + sum over orders of score times score, as T. Louis, Journal of the Royal
    Statistical Society B 44, 1982 (from memory).

    Args:
        counted: Patterns.
        before: Gamma of each factor.
        factors: The best fit, shape (J,).
        combine: Which factors make each of K products, shape (K, J).
    """
    score = scored(counted, factors)
    weighted = score.multiply(counted.count[:, None])
    information = np.diag(before.shape) + (score.T @ weighted).toarray()
    variance = np.einsum("kj,jl,kl->k", combine, np.linalg.inv(information), combine)
    shape, best = 1.0 / variance, np.exp(combine @ np.log(factors))
    low, middle, high = (stats.gamma.ppf(q, shape) / shape * best for q in ((1 - LEVEL) / 2, 0.5, (1 + LEVEL) / 2))
    learned = np.maximum(1.0 - variance / (combine**2 @ variance_of_log(before.shape)), 0.0)
    return Known(middle, low, high, learned)


def variance_of_log(shape: Floats) -> Floats:
    """Variance of the logarithm of gamma variables."""
    found: Floats = special.polygamma(1, shape)
    return found
