"""Slow obvious twins of what refits compute."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import optimize, stats

from advisor.decision.history import history_of
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import Evidence, begun
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED
from advisor.refit.afterwards import comes_back
from advisor.refit.counted import Counted
from advisor.refit.fitting import Gamma, _stepped, penalised, shared
from advisor.refit.order import Order
from advisor.refit.statements import Said
from advisor.refit.terms import Terms
from advisor.refit.weights import Weigher


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


def plain_sweeps(counted: Counted, before: Gamma, sweeps: int, enough: float) -> tuple[np.ndarray, list[float]]:
    """Factors after sweeps without any leap, and the objective before the first and after each."""
    factors, heights = np.ones(len(before.shape)), [penalised(counted, before, np.ones(len(before.shape)))]
    for _ in range(sweeps):
        for kind in np.unique(counted.block):
            factors = _stepped(counted, before, factors, counted.block == kind, shared(counted, factors))
        heights.append(penalised(counted, before, factors))
        if heights[-1] - heights[-2] < enough * max(counted.count.sum(), 1.0):
            break
    return factors, heights


def wrong_statements(said: list[Said], a: float, b: float) -> list[np.ndarray]:
    """Ends and median of the chances to say yes, and no, whatever is the case, on an even grid, one by one."""
    grid = (np.arange(250) + 0.5) / 500.0
    mass = np.array([[_chance_of(said, f, d) for d in grid] for f in grid])
    mass *= np.outer(stats.beta.pdf(grid, a, b), stats.beta.pdf(grid, a, b))
    sums = [np.cumsum(mass.sum(axis=axis)) / mass.sum() for axis in (1, 0)]
    return [np.interp([0.05, 0.5, 0.95], each, grid + 0.001) for each in sums]


def _chance_of(said: list[Said], f: float, d: float) -> float:
    """P(all statements), one after another."""
    chance = 1.0
    for each in said:
        yes = (1.0 - f - d) * each.chance + f
        chance *= (yes if each.yes else 1.0 - yes) ** each.orders
    return chance


def likelihood(model: Model, order: Order) -> np.ndarray:
    """P(all that an order tells | hypothesis, complaint), by the engine along every path of repairs, shape (H,)."""
    root, worlds = model.prior(Vehicle()), model.worlds
    column = worlds.symptoms.index(order.symptom)
    history = history_of(model, root, Weigher(model).read(order))
    told = list(history.evidence)
    if history.paths is not None and order.came_back:
        shows = worlds.presence[:, column].copy()
        shows[[NONE, AS_DESIGNED, UNLISTED]] = 0.0, 0.0, 1.0
        told.append(Evidence(comes_back(shows[history.paths.now], order.came_back, order.followed_days), 1.0))
    joint = begun(worlds, root, told, model.axis.prior, history.paths)
    return joint / (root.weights * model.complaint(root, column))


def row(model: Model, order: Order, vehicle: Vehicle, causes: str) -> tuple[np.ndarray, float]:
    """Share of each term of one pattern, hypothesis by hypothesis, shape (2 U,), and of the special ones."""
    terms, told = Terms.of(model), likelihood(model, order)
    reported = model.complaint(model.prior(Vehicle()), model.worlds.symptoms.index(order.symptom))
    weights, found = terms.weights(vehicle), np.zeros(2 * terms.sets)
    held = [{model.worlds.causes[c] for c in members if c >= 0} for members in model.worlds.members]
    wanted = set(causes.split("; ")) - {""}
    whole = sum(float(weights[k] @ reported) for k in (0, 1))
    for h in range(SPECIALS, len(told)):
        if wanted <= held[h]:
            for k in (0, 1):
                found[k * terms.sets + terms.set_of[h]] += weights[k, h] * reported[h] * told[h] / whole
    shares = model.intake.all
    special = 0.0 if wanted else float(shares @ told[:SPECIALS]) / (1.0 - float(shares.sum()))
    return found, special


def vehicle_of(pattern: pd.Series) -> Vehicle:
    """Age and hours of a pattern, the usual ones where they are not known."""
    known = {name: float(pattern[name]) for name in ("years", "hours") if not np.isnan(pattern[name])}
    return Vehicle(**known)
