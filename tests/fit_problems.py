"""Small refits built by hand: a few causes, complaints and tests, orders drawn from known rates."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse, stats

from advisor.refit.counted import Counted
from advisor.refit.fitting import Gamma, fit
from advisor.refit.intervals import closed_form, drawn, known, variance_of_log


@dataclass(frozen=True, eq=False)
class Small:
    """K causes of some types, S complaints, and tests whose outcomes tell causes apart more or less.

    Attributes:
        usual: Handbook share of each cause after each complaint, shape (S, K).
        shows: P(pattern of findings | cause), shape (K, F).
        confirmed: Share of orders whose cause is confirmed.
        type_of: Part type of each cause, shape (K,).
    """

    usual: np.ndarray
    shows: np.ndarray
    confirmed: float
    type_of: np.ndarray

    @property
    def combine(self) -> np.ndarray:
        """Which factors make each cause's, its own and its type's, shape (K, J)."""
        return np.hstack([np.eye(len(self.type_of)), np.eye(int(self.type_of.max()) + 1)[self.type_of]])

    @property
    def shape(self) -> np.ndarray:
        """Gamma shapes of the factors, shape (J,)."""
        kinds = self.combine.shape[1] - len(self.type_of)
        return np.concatenate([np.full(len(self.type_of), 4.0), np.full(kinds, 8.0)])

    def orders(self, factors: np.ndarray, count: int, rng: np.random.Generator) -> Counted:
        """Draw orders at rates times the products of some factors, shape (J,), complaints alike."""
        weights = self.usual * np.exp(self.combine @ np.log(factors))
        kinds: dict[tuple[int, int, int], int] = {}
        for _ in range(count):
            s = int(rng.integers(len(weights)))
            cause = int(rng.choice(weights.shape[1], p=weights[s] / weights[s].sum()))
            finding = int(rng.choice(self.shows.shape[1], p=self.shows[cause]))
            key = (s, finding, cause if rng.random() < self.confirmed else -1)
            kinds[key] = kinds.get(key, 0) + 1
        return self.counted(kinds)

    def counted(self, kinds: dict[tuple[int, int, int], int]) -> Counted:
        """Orders by (complaint, findings, confirmed cause or -1) as a fit takes them."""
        rows = []
        for s, finding, cause in kinds:
            row = self.usual[s] * self.shows[:, finding]
            rows.append(row if cause < 0 else np.where(np.arange(len(row)) == cause, row, 0.0))
        block = np.repeat([0, 1], [len(self.type_of), self.combine.shape[1] - len(self.type_of)])
        return Counted(
            sparse.csr_array(np.array(rows)),
            np.zeros(len(rows)),
            np.array(list(kinds.values()), dtype=float),
            np.array([s for s, _, _ in kinds], dtype=np.intp),
            sparse.csr_array(self.usual / self.usual.sum(axis=1, keepdims=True)),
            np.zeros(len(self.usual), dtype=np.intp),
            (sparse.csr_array(self.combine),),
            block,
        )


def small(seed: int = 0, causes: int = 8, complaints: int = 3, findings: int = 4, confirmed: float = 0.4) -> Small:
    """A small refit whose shares and findings are drawn from a seed."""
    rng = np.random.default_rng(seed)
    usual = rng.dirichlet(np.full(causes, 2.0), complaints)
    return Small(usual, rng.dirichlet(np.full(findings, 0.6), causes), confirmed, np.arange(causes) % 3)


@dataclass(frozen=True, eq=False)
class Coverage:
    """How often 90 % intervals held the truth, with its standard error by fleet, and a rank of the truth a fleet."""

    covered: dict[str, tuple[float, float]]
    ranks: np.ndarray


def coverage(fleets: int, seed: int, count: int = 150, draws: int = 400) -> Coverage:
    """Draw rates from the prior in use, fit orders, and see where the truth lies: relative to the sum of all."""
    problem, held, ranks = small(seed), {"drawn": [], "closed form": [], "plain gamma": []}, []
    before, combine = Gamma.around_one(problem.shape), problem.combine
    for fleet in range(fleets):
        rng = np.random.default_rng([seed, fleet])
        true = rng.gamma(before.shape) / before.rate
        orders = problem.orders(true, count, rng)
        best = fit(orders, before)
        found = np.exp(np.log(drawn(orders, before, best.factors, fleet, draws)) @ combine.T)
        wanted = np.exp(combine @ np.log(true))
        spoken = known(found, combine @ variance_of_log(before.shape))
        closed = closed_form(orders, before, best.factors, combine)
        shape = 1.0 / (combine @ (1.0 / (before.shape + best.events)))  # as if every shared-out order had been seen
        ends = [stats.gamma.ppf(q, shape) / shape * np.exp(combine @ np.log(best.factors)) for q in (0.05, 0.95)]
        plain = replace(closed, low=ends[0], high=ends[1])
        for name, each in (("drawn", spoken), ("closed form", closed), ("plain gamma", plain)):
            held[name].append(np.mean((each.low <= wanted) & (wanted <= each.high)))
        asked = fleet % len(wanted)  # one a fleet, so that ranks are independent
        share = problem.usual.mean(axis=0)
        ranks.append(float((found[:, asked] / (found @ share) < wanted[asked] / (wanted @ share)).mean()))
    covered = {n: (float(np.mean(h)), float(np.std(h, ddof=1) / np.sqrt(fleets))) for n, h in held.items()}
    return Coverage(covered, np.array(ranks))
