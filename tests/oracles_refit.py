"""Slow obvious twins of what refits compute."""

from __future__ import annotations

import numpy as np
from scipy import optimize

from advisor.refit.counted import Counted
from advisor.refit.fitting import Gamma


def objective(counted: Counted, before: Gamma, factors: np.ndarray) -> float:
    """Penalised log likelihood, term by term and pattern by pattern [nat]."""
    share, usual = counted.share.toarray(), counted.usual.toarray()
    degrees = [each.toarray() for each in counted.degrees]
    total = 0.0
    for n, count in enumerate(counted.count):
        s = counted.stratum[n]
        times = [np.prod(factors**row) for row in degrees[counted.context[s]]]
        whole = sum(u * t for u, t in zip(usual[s], times, strict=True))
        total += count * np.log(counted.special[n] + sum(a * t for a, t in zip(share[n], times, strict=True)) / whole)
    return total + sum(a * np.log(b) - r * b for a, r, b in zip(before.shape, before.rate, factors, strict=True))


def best_factors(counted: Counted, before: Gamma) -> np.ndarray:
    """The factors of the highest objective, by a general optimiser on their logarithms."""
    found = optimize.minimize(
        lambda log: -objective(counted, before, np.exp(log)), np.zeros(len(before.shape)), method="L-BFGS-B"
    )
    return np.exp(found.x)
