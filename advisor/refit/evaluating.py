"""Old priors against new ones on orders that the fit has not seen, pair by pair."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import sparse  # type: ignore[import-untyped]  # it ships no types

from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import Floats, Ints
from advisor.refit import scoring
from advisor.refit.counted import Counted, Shelf
from advisor.refit.order import Order
from advisor.refit.predicting import cause_chances, every_cause, labels, log_chances
from advisor.refit.replaying import Replayed
from advisor.refit.verdict import Gain

TOPS = (1, 3)
CHUNK = 20_000
Severity = tuple[Ints, Floats]
"""Hypotheses of an order, and the chance of each."""
_SEVERITY = ("circuit", "symptom", "findings", "causes")


@dataclass(frozen=True, eq=False)
class Scores:
    """How one set of priors does on N orders.

    Attributes:
        loss: -log P(confirmed causes | complaint, findings) of each, shape (N,) [nat].
        top: Largest probability of a cause, shape (N,).
        hit: 1 where that cause is confirmed, shape (N,).
        within: 1 where a confirmed cause is among the first so many, shape (tops, N).
        brier: Sum over causes of the square distance, shape (N,).
        cost: Expected cost to fix [money], shape (N,).
        tests: Expected number of tests, shape (N,).
    """

    loss: Floats
    top: Floats
    hit: Floats
    within: Floats
    brier: Floats
    cost: Floats
    tests: Floats


@dataclass(frozen=True, eq=False)
class Evaluation:
    """Old and new on the same orders, shape (N,) each, with their counts."""

    old: Scores
    new: Scores
    weight: Floats
    patterns: pd.DataFrame

    @property
    def sides(self) -> tuple[tuple[str, Scores], ...]:
        """Both, by name."""
        return (("old", self.old), ("new", self.new))

    def gain(self, what: str) -> Gain:
        """Mean gain of one of the scores."""
        return Gain.of(getattr(self.old, what), getattr(self.new, what), self.weight)


@dataclass(frozen=True, eq=False)
class Unseen:
    """Confirmed orders that a fit has not seen.

    Attributes:
        patterns: Their table.
        blind: What was known before the first repair.
        known: The same with the confirmed causes.
        severities: How bad each may be.
    """

    patterns: pd.DataFrame
    blind: Counted
    known: Counted
    severities: tuple[Severity, ...]


def scorable(patterns: pd.DataFrame, shelf: Shelf) -> np.ndarray:
    """Which patterns name confirmed causes, each with its mode, shape (N,)."""
    named = {(circuit, cause) for circuit, cause in every_cause(shelf.terms)}
    whole = [
        bool(causes) and all((circuit, name.strip()) in named for name in causes.split(";"))
        for circuit, causes in zip(patterns["circuit"], patterns["causes"], strict=True)
    ]
    confirmed: np.ndarray = (patterns["cause_status"] == "confirmed").to_numpy(dtype=bool) & np.array(whole, dtype=bool)
    return confirmed


def scores(unseen: Unseen, factors: Floats, shelf: Shelf, fixing: Mapping[tuple[str, str], Replayed]) -> Scores:
    """Score one set of factors; `fixing` is what its plans come to, by circuit and symptom."""
    every = {key: place for place, key in enumerate(every_cause(shelf.terms))}
    pairs = list(zip(unseen.patterns["circuit"], unseen.patterns["causes"], strict=True))
    chances, wanted = cause_chances(unseen.blind, factors, shelf), labels(pairs, every)
    parts = [_ranked(chances[at : at + CHUNK], wanted[at : at + CHUNK]) for at in range(0, len(pairs), CHUNK)]
    top, hit, within, brier = (np.concatenate([part[i] for part in parts], axis=-1) for i in range(4))
    loss = log_chances(unseen.blind, factors) - log_chances(unseen.known, factors)
    records = zip(unseen.patterns.to_dict("records"), unseen.severities, strict=True)
    paid = np.array([_fixed(pattern, severity, fixing) for pattern, severity in records]).reshape(-1, 2)
    return Scores(loss, top, hit, within, brier, paid[:, 0], paid[:, 1])


def _ranked(chances: sparse.csr_array, wanted: sparse.csr_array) -> tuple[Floats, Floats, Floats, Floats]:
    p, y = chances.toarray(), wanted.toarray()
    order = np.argsort(-p, axis=1, kind="stable")[:, : max(TOPS)]
    held = np.take_along_axis(y, order, axis=1)
    within = np.array([held[:, :k].max(axis=1) for k in TOPS])
    return np.take_along_axis(p, order[:, :1], axis=1)[:, 0], within[0], within, ((p - y) ** 2).sum(axis=1)


def _fixed(pattern: Mapping[str, str], severity: Severity, fixing: Mapping[tuple[str, str], Replayed]) -> Floats:
    """Cost and tests of a vehicle with the confirmed causes, shape (2,)."""
    plan, (hypotheses, share) = fixing[pattern["circuit"], pattern["symptom"]], severity
    return np.array([share @ plan.cost[hypotheses], share @ plan.tests[hypotheses]])


def severities(patterns: pd.DataFrame, shelf: Shelf) -> tuple[Severity, ...]:
    """How bad confirmed causes are by the handbook and the findings: hypotheses and their chances, summing to 1."""
    found = []
    for circuit, symptom, findings, causes in zip(*(patterns[name] for name in _SEVERITY), strict=True):
        weigher = shelf.weighers[circuit]
        likely = weigher.likelihood(Order(symptom, findings, first=True)) * weigher.confirmed(causes)
        weights = likely * shelf.terms[circuit].weights(Vehicle()).sum(axis=0) * weigher.reported(symptom)
        hypotheses = np.flatnonzero(weights)
        found.append((hypotheses, weights[hypotheses] / weights.sum()))
    return tuple(found)


def fixings(patterns: pd.DataFrame, fix: Callable[[str, str], Replayed]) -> dict[tuple[str, str], Replayed]:
    """What plans come to for each circuit and complaint of a table."""
    pairs = sorted(set(zip(patterns["circuit"], patterns["symptom"], strict=True)))
    return {pair: fix(*pair) for pair in pairs}


def summary(found: Scores, weight: Floats, rng: np.random.Generator) -> dict[str, float]:
    """Means of all scores, with Murphy's parts and the calibration error of the likeliest cause."""
    bins = scoring.equal_mass(found.top, weight)
    parts = scoring.decomposed(found.top, found.hit, weight, bins)
    ece, low, high = scoring.ece_interval(found.top, found.hit, weight, rng)
    return {
        "log_loss": scoring.mean(found.loss, weight),
        "brier_top": scoring.brier_one_class(found.top, found.hit, weight),
        "brier_all": scoring.mean(found.brier, weight),
        "reliability": parts.reliability,
        "resolution": parts.resolution,
        "uncertainty": parts.uncertainty,
        "within": parts.within,
        "ece": ece,
        "ece_low": low,
        "ece_high": high,
        **{f"top_{k}": scoring.mean(row, weight) for k, row in zip(TOPS, found.within, strict=True)},
        "cost": scoring.mean(found.cost, weight),
        "tests": scoring.mean(found.tests, weight),
    }
