"""From patterns of orders to a candidate for a release: fit, proof on later orders, verdict."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from advisor.decision.advice import Costs
from advisor.knowledge.model import Model
from advisor.network.worlds import Bools, Floats
from advisor.refit.coordinates import Coordinates
from advisor.refit.counted import Counted, Refused, Shelf, Taken, counted
from advisor.refit.drift import Drift, drifts
from advisor.refit.evaluating import Evaluation, Unseen, fixings, scorable, scores
from advisor.refit.firmness import firmness
from advisor.refit.fitting import Fit, Gamma, fit
from advisor.refit.predicting import every_cause, labels
from advisor.refit.rates import Rates, Scale, rates_of
from advisor.refit.splitting import later
from advisor.refit.verdict import Verdict, verdict

Say = Callable[[str], None]


def _silent(_: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class Learned:
    """A candidate with its proof.

    Attributes:
        rates: By circuit.
        coordinates: All factors.
        fit: Of all orders.
        firmer: How many times as firm as usual the handbook was held.
        taken: All patterns that could be weighed.
        evaluation: Old priors against the same fit on the earlier orders alone; None where none was kept back.
        verdict: What may be said.
        drifts: Causes whose share has changed, by their place among all causes.
        split: First period of the orders kept back, "" where there is none.
    """

    rates: Mapping[str, Rates]
    coordinates: Coordinates
    fit: Fit
    firmer: float
    taken: Taken
    evaluation: Evaluation | None
    verdict: Verdict
    drifts: tuple[Drift, ...]
    split: str

    @property
    def refused(self) -> tuple[Refused, ...]:
        """Orders that could not be weighed."""
        return self.taken.refused


@dataclass(frozen=True, eq=False)
class Learning:
    """A refit with what it starts from.

    Attributes:
        models: Circuits by id, with the priors to begin from.
        seed: Of all random numbers.
        costs: By which plans are made and paid.
        say: Told how far it is.
    """

    models: Mapping[str, Model]
    seed: int = 0
    costs: Costs = field(default_factory=Costs)
    say: Say = _silent

    def learn(self, patterns: pd.DataFrame) -> Learned:
        """Learn from a table of patterns (`columns.PATTERN_COLUMNS`)."""
        mine = patterns[patterns["circuit"].isin(list(self.models))].reset_index(drop=True)
        names = sorted(set(mine["circuit"]))
        shelf = Shelf.of({name: self.models[name] for name in names})
        coordinates = shelf.coordinates(mine)
        self.say(f"weighing {len(mine)} patterns of {int(mine['count'].sum())} orders")
        taken = counted(mine, shelf, coordinates)
        mine = mine.iloc[taken.places].reset_index(drop=True)
        after = later(mine)
        firmer = firmness(taken.counted.of(np.flatnonzero(~after)), coordinates.shape, self.seed)
        self.say(f"fitting {len(coordinates.all)} factors; the handbook held {firmer:g} times as firm as usual")
        evaluation = self._proved(mine, after, shelf, coordinates, taken.counted, firmer)
        found = fit(taken.counted, Gamma.around_one(coordinates.shape(firmer)))
        self.say("drawing intervals")
        return Learned(
            rates_of(taken.counted, coordinates, found, self.seed),
            coordinates,
            found,
            firmer,
            taken,
            evaluation,
            _verdict(evaluation),
            _drifted(mine, after, shelf),
            min(mine["period"][after], default=""),
        )

    def _proved(  # noqa: PLR0913, PLR0917  what is split, by what, and how it is fitted
        self,
        patterns: pd.DataFrame,
        after: Bools,
        shelf: Shelf,
        coordinates: Coordinates,
        every: Counted,
        firmer: float,
    ) -> Evaluation | None:
        """Fit the earlier orders and score the later ones that have a confirmed cause."""
        rows = np.flatnonzero(after & scorable(patterns, shelf))
        if not len(rows):
            return None
        early = fit(every.of(np.flatnonzero(~after)), Gamma.around_one(coordinates.shape(firmer)))
        kept = patterns.iloc[rows].reset_index(drop=True)
        self.say(f"judging by {int(kept['count'].sum())} later orders")
        unseen, nothing = unseen_orders(kept, shelf, coordinates), np.ones(len(coordinates.all))
        kept = unseen.patterns
        scale = Scale.of(coordinates, every)
        new = {n: self._refitted(n, scale, early.factors) for n in shelf.terms}
        pair = [
            scores(unseen, factors, shelf, fixings(kept, models, self.costs))
            for factors, models in ((nothing, self.models), (early.factors, new))
        ]
        return Evaluation(pair[0], pair[1], kept["count"].to_numpy(dtype=np.float64), kept)

    def _refitted(self, circuit: str, scale: Scale, factors: Floats) -> Model:
        model = self.models[circuit]
        whole = whole_factors(model, scale.relative(circuit, factors[None])[0])
        return model.with_priors("early orders", whole)


def whole_factors(model: Model, factors: Floats) -> dict[str, float]:
    """Factors on the library's rates, from those on what a model began from, shape (C,)."""
    pairs = zip(model.compiled.causes, factors.tolist(), strict=True)
    return {cause: factor * model.factors.get(cause, 1.0) for cause, factor in pairs}


def unseen_orders(patterns: pd.DataFrame, shelf: Shelf, coordinates: Coordinates) -> Unseen:
    """Weigh confirmed orders twice, without and with what was confirmed; all of them must be possible."""
    named = patterns.assign(repairs="", came_back="", followed_days=0)
    blind = counted(named.assign(causes="", cause_status="unknown"), shelf, coordinates)
    sure = counted(named, shelf, coordinates)
    both = np.intersect1d(blind.places, sure.places)
    pair = (t.counted.of(np.flatnonzero(np.isin(t.places, both))) for t in (blind, sure))
    return Unseen(patterns.iloc[both].reset_index(drop=True), *pair)


def _verdict(evaluation: Evaluation | None) -> Verdict:
    if evaluation is None:
        return "too few orders"
    usual = float(evaluation.weight @ evaluation.old.cost / evaluation.weight.sum())
    return verdict(evaluation.gain("loss"), evaluation.gain("cost"), usual)


def _drifted(patterns: pd.DataFrame, after: Bools, shelf: Shelf) -> tuple[Drift, ...]:
    """Compare the confirmed causes of earlier and later periods."""
    rows, every = scorable(patterns, shelf), every_cause(shelf)
    pairs = list(zip(patterns["circuit"][rows], patterns["causes"][rows], strict=True))
    found = labels(pairs, {key: place for place, key in enumerate(every)})
    count = patterns["count"].to_numpy(dtype=np.float64)[rows]
    sums = [found.T @ np.where(side, count, 0.0) for side in (~after[rows], after[rows])]
    numbers = {name: number for number, name in enumerate(shelf.terms)}
    return drifts(*sums, np.array([numbers[circuit] for circuit, _ in every], dtype=np.intp))
