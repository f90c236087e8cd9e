"""Factors on rates that fit orders best: expectation and maximisation on patterns, with gamma pseudo-counts.

Orders exist only because something failed, so without exposure each complaint's number of orders is taken as given:
sum over n of log P(pattern n | complaint; factors) + sum over factors of a log b - a b, b the factor.  The E step
shares each pattern out among the terms; the M step takes one kind of factor at a time and solves
a + events = a b + expected events, with sets of several faults bounded by the inequality of means, so that the
penalised objective never falls.  After every two sweeps all factors leap along the line and the bend that the sweeps
have drawn on the logarithms (squared extrapolation), unless the objective would fall there.

References:
    A. Dempster, N. Laird, D. Rubin, "Maximum likelihood from incomplete data via the EM algorithm", Journal of the
    Royal Statistical Society B 39, 1977; X.-L. Meng, D. Rubin, "Maximum likelihood estimation via the ECM algorithm",
    Biometrika 80, 1993 (both from memory).
    R. Varadhan, C. Roland, "Simple and globally convergent methods for accelerating the convergence of any EM
    algorithm", Scandinavian Journal of Statistics 35, 2008, doi 10.1111/j.1467-9469.2007.00585.x: the third of its
    lengths, -|r| / |v|, and its fall back to the sweeps (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse  # type: ignore[import-untyped]  # it ships no types

from advisor.network.worlds import Floats, Ints
from advisor.refit.counted import Counted
from advisor.refit.sums import binned

SWEEPS = 500
ENOUGH = 1e-7
"""A fit ends when a sweep raises the objective by less, for each order [nat]."""
_NEWTON = 12
FARTHER = 4.0
"""How many times as long the longest leap becomes after one that was as long as allowed, and as short after a fall."""


@dataclass(frozen=True, eq=False)
class Gamma:
    """What is believed of the factors before any order: gamma variables by shape and rate, shape (J,) each."""

    shape: Floats
    rate: Floats

    @staticmethod
    def around_one(shape: Floats) -> Gamma:
        """Means of 1."""
        return Gamma(shape, shape)


@dataclass(frozen=True, eq=False)
class Shared:
    """Patterns shared out at some factors.

    Attributes:
        terms: What factors make of each cell of a context and a term, shape (K,).
        total: P(pattern) in units of handbook shares, shape (N,).
        faults: Expected orders of each stratum that were about a listed fault, shape (S,).
        whole: What factors make of all that a complaint alone leads to expect, shape (S,).
        each: Expected orders of each stratum for each unit of `whole`, shape (S,).
        objective: Log likelihood [nat], the prior left out.
    """

    terms: Floats
    total: Floats
    faults: Floats
    whole: Floats
    each: Floats
    objective: float


@dataclass(frozen=True, eq=False)
class Fit:
    """Factors that fit best.

    Attributes:
        factors: Shape (J,).
        events: Expected orders that each factor had a part in, shape (J,).
        objective: Penalised log likelihood before the first sweep and after each, and after each leap [nat].
        sweeps: How many there were.
    """

    factors: Floats
    events: Floats
    objective: tuple[float, ...]
    sweeps: int = 0


@dataclass(frozen=True, eq=False)
class _Point:
    """Factors, shape (J,), patterns shared out at them, and the penalised objective there."""

    factors: Floats
    found: Shared
    height: float


def fit(
    counted: Counted, before: Gamma, start: Floats | None = None, *, sweeps: int = SWEEPS, enough: float = ENOUGH
) -> Fit:
    """Fit all factors.

    Args:
        counted: Patterns.
        before: Gamma of each factor.
        start: Factors to begin from, shape (J,), all 1 unless given.
        sweeps: At most so many times all kinds of factors.
        enough: Gain of a sweep for each order at which to stop [nat].
    """
    point = _point(counted, before, np.ones(len(before.shape)) if start is None else start.copy())
    few, longest = enough * max(float(counted.count.sum()), 1.0), FARTHER
    history, done, trail = [point.height], 0, [point]
    while done < sweeps:
        point, done = _swept(counted, before, point), done + 1
        history.append(point.height)
        trail.append(point)
        if history[-1] - history[-2] < few:
            break
        if len(trail) == 3:
            point, longest = _leapt(counted, before, trail, longest)
            history.append(point.height)
            trail = [point]
    return Fit(point.factors, events(counted, point.found), tuple(history), done)


def _point(counted: Counted, before: Gamma, factors: Floats) -> _Point:
    found = shared(counted, factors)
    return _Point(factors, found, found.objective + _held(before, factors))


def _swept(counted: Counted, before: Gamma, point: _Point) -> _Point:
    """Every kind of factor once."""
    for kind in np.unique(counted.block):
        point = _point(counted, before, _stepped(counted, before, point.factors, counted.block == kind, point.found))
    return point


def _leapt(counted: Counted, before: Gamma, trail: list[_Point], longest: float) -> tuple[_Point, float]:
    """Where two sweeps point to, or where they ended if it is no higher there; and how long the next leap may be."""
    start, middle, end = (np.log(point.factors) for point in trail)
    step, bend = middle - start, end - 2.0 * middle + start
    size = float(np.linalg.norm(bend))
    length = min(float(np.linalg.norm(step)) / size, longest) if size > 0.0 else 1.0
    if length <= 1.0:
        return trail[-1], longest
    there = _point(counted, before, np.exp(start + 2.0 * length * step + length**2 * bend))
    if not there.height >= trail[-1].height:  # nowhere, too
        return trail[-1], max(longest / FARTHER, FARTHER)
    return there, longest * FARTHER if length == longest else longest


def penalised(counted: Counted, before: Gamma, factors: Floats) -> float:
    """Penalised log likelihood [nat]."""
    return shared(counted, factors).objective + _held(before, factors)


def _held(before: Gamma, factors: Floats) -> float:
    """What is believed beforehand, as pseudo-counts [nat]."""
    return float(before.shape @ np.log(factors) - before.rate @ factors)


def shared(counted: Counted, factors: Floats) -> Shared:
    """Share patterns out among terms: the E step."""
    terms = np.exp(counted.every_degree @ np.log(factors))
    whole, fault = counted.usual_cells @ terms, counted.share_cells @ terms
    scale = whole if counted.exposure is None else np.ones(len(whole))
    total = counted.special * scale[counted.stratum] + fault
    faults = binned(counted.stratum, counted.count * fault / total, len(whole))
    each = faults / whole if counted.exposure is None else counted.exposure
    objective = float(counted.count @ np.log(total / scale[counted.stratum]))
    if counted.exposure is not None:
        objective -= float(counted.exposure @ whole)
    return Shared(terms, total, faults, whole, each, objective)


def orders(counted: Counted, found: Shared) -> Floats:
    """Expected orders of each pattern and term, one for each entry of `Counted.share`."""
    given = counted.share.data * found.terms[counted.cell]
    shares: Floats = given * (counted.count / found.total)[counted.row_of]
    return shares


def events(counted: Counted, found: Shared) -> Floats:
    """Expected orders that each factor had a part in, shape (J,)."""
    mass = found.terms * (counted.share_cells.T @ (counted.count / found.total))
    number: Floats = counted.every_degree.T @ mass
    return number


def _stepped(counted: Counted, before: Gamma, factors: Floats, mine: Ints, found: Shared) -> Floats:
    """Factors of one kind, each raised to its best given the others and orders shared out at them: the M step."""
    mass = found.terms * (counted.usual_cells.T @ found.each)
    degrees = counted.every_degree
    size = degrees @ mine.astype(np.float64)  # of this kind, in each term
    wanted = before.shape + events(counted, found)
    by_size = {int(d): degrees.T @ np.where(size == d, mass, 0.0) for d in np.unique(size[(mass > 0.0) & (size > 0.0)])}
    times = _solved(wanted, before.rate * factors, by_size)
    return np.where(mine, factors * times, factors)


def _solved(wanted: Floats, rate: Floats, by_size: dict[int, Floats]) -> Floats:
    """Times t by which factors grow: wanted = rate t + sum over d of expected_d t^d, by Newton on log t, shape (J,)."""
    linear = rate + by_size.get(1, 0.0)
    linear = np.where(linear > 0.0, linear, 1.0)
    higher = {d: each for d, each in by_size.items() if d > 1}
    log = np.log(wanted / (linear + sum(higher.values())))
    for _ in range(_NEWTON if higher else 1):
        if not higher:
            return np.exp(np.log(wanted / linear))
        value, slope = linear * np.exp(log), linear * np.exp(log)
        for d, each in higher.items():
            value, slope = value + each * np.exp(d * log), slope + d * each * np.exp(d * log)
        log = log - np.clip((value - wanted) / slope, -2.0, 2.0)
    return np.exp(log)


def scored(counted: Counted, factors: Floats) -> sparse.csr_array:
    """Score of each pattern: events in it less those that its complaint alone leads to expect, shape (N, J).

    Where exposure is known, what is expected does not depend on the pattern and is no part of its score.
    """
    found, kind = shared(counted, factors), sparse.csr_array
    per_order = np.divide(orders(counted, found), counted.count[counted.row_of])
    own = kind((per_order, counted.cell, counted.share.indptr), shape=counted.share_cells.shape)
    if counted.exposure is not None:
        return kind(own @ counted.every_degree)
    usual = counted.usual_cells @ (sparse.diags_array(found.terms) @ counted.every_degree)
    about_fault = np.asarray(own.sum(axis=1)).reshape(-1)
    lessened = sparse.diags_array(about_fault) @ (sparse.diags_array(1.0 / found.whole) @ usual)[counted.stratum]
    return kind(own @ counted.every_degree - lessened)
