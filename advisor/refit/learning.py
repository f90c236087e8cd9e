"""From patterns of orders to a candidate for a release: fit, proof on later orders, verdict."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property

import numpy as np
import pandas as pd

from advisor.decision.advice import Costs
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import Floats
from advisor.refit.coordinates import Coordinates
from advisor.refit.counted import Refused, Shelf, Taken, counted
from advisor.refit.drift import Drift, drifts
from advisor.refit.evaluating import Evaluation, Unseen, fixings, scorable, scores, severities
from advisor.refit.firmness import firmness
from advisor.refit.fitting import Fit, Gamma, fit
from advisor.refit.predicting import every_cause, labels
from advisor.refit.rates import Rates, Scale, rates_of
from advisor.refit.replaying import Replayed, replayed
from advisor.refit.splitting import Split, split
from advisor.refit.verdict import LEAST_ORDERS, Verdict, verdict

Say = Callable[[str], None]


def _silent(_: str) -> None:
    """Say nothing."""


@dataclass(frozen=True, eq=False)
class Learned:
    """A candidate with its proof.

    Attributes:
        coordinates: All factors.
        fit: Of all orders.
        firmer: How many times as firm as usual the handbook was held.
        taken: All patterns that could be weighed.
        parted: The same, earlier and later.
        evaluation: Old priors against the same fit on the earlier orders alone; None where too few were kept back.
        verdict: What may be said.
        drifts: Causes whose share has changed, by their place among all causes.
        seed: Of the draws.
        shelf: The circuits, made ready.
    """

    coordinates: Coordinates
    fit: Fit
    firmer: float
    taken: Taken
    parted: Split
    evaluation: Evaluation | None
    verdict: Verdict
    drifts: tuple[Drift, ...]
    seed: int
    shelf: Shelf

    @cached_property
    def rates(self) -> Mapping[str, Rates]:
        """Factors with intervals, by circuit; drawn at first use."""
        return rates_of(self.taken.counted, self.coordinates, self.fit, self.seed)

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
        depth: How many steps ahead plans look, 1 or 2.
        say: Told how far it is.
    """

    models: Mapping[str, Model]
    seed: int = 0
    costs: Costs = field(default_factory=Costs)
    depth: int = 2
    say: Say = _silent

    @cached_property
    def shelf(self) -> Shelf:
        """The circuits made ready; orders weighed once are kept for the next table."""
        return Shelf.of(self.models)

    def learn(self, patterns: pd.DataFrame) -> Learned:
        """Learn from a table of patterns (`columns.PATTERN_COLUMNS`), all of circuits that are known."""
        parted = split(patterns)
        shelf = self.shelf.only(sorted(set(patterns["circuit"])))
        coordinates = shelf.coordinates(parted.patterns)
        self.say(f"weighing {len(parted.patterns):,} patterns of {int(patterns['count'].sum()):,} orders")
        taken = counted(parted.patterns, shelf, coordinates)
        parted, every = parted.at(taken.places), taken.counted
        self.say(f"fitting {len(coordinates.all)} factors")
        firmer = firmness(every.times(parted.early), coordinates.shape, self.seed)
        before = Gamma.around_one(coordinates.shape(firmer))
        early = fit(every.times(parted.early), before).factors
        self.say(f"judging by {int(parted.late.sum()):,} later orders")
        evaluation = self._proved(parted, shelf, coordinates, Scale.of(coordinates, every), early)
        found = fit(every, before, early)
        drifts = _drifted(parted, shelf)
        said = _verdict(evaluation)
        return Learned(coordinates, found, firmer, taken, parted, evaluation, said, drifts, self.seed, shelf)

    def _proved(
        self, parted: Split, shelf: Shelf, coordinates: Coordinates, scale: Scale, early: Floats
    ) -> Evaluation | None:
        """Score the later orders that have a confirmed cause; None where they are too few for anything to be said."""
        kept = parted.at(np.flatnonzero((parted.late > 0.0) & scorable(parted.patterns, shelf)))
        if kept.late.sum() < LEAST_ORDERS:
            return None
        unseen = unseen_orders(kept.patterns.assign(count=kept.late), shelf, coordinates)
        new = {n: self._refitted(n, scale, early) for n in shelf.terms}
        old = scores(unseen, np.ones(len(early)), shelf, fixings(unseen.patterns, self._old_plan))
        other = scores(unseen, early, shelf, fixings(unseen.patterns, self._planned(new)))
        return Evaluation(old, other, unseen.blind.count, unseen.patterns)

    def _planned(self, models: Mapping[str, Model]) -> Callable[[str, str], Replayed]:
        """What plans with the priors of some models come to, by circuit and complaint; for a typical vehicle."""

        def planned(circuit: str, symptom: str) -> Replayed:
            """Plan one complaint."""
            self.say(f"planning {circuit}, {symptom}, as advised by {models[circuit].priors}")
            return replayed(models[circuit], symptom, Vehicle(), self.costs, self.depth)

        return planned

    @cached_property
    def _old_plan(self) -> Callable[[str, str], Replayed]:
        """The same with the priors that it begins from, each complaint planned once."""
        return cache(self._planned(self.models))

    def _refitted(self, circuit: str, scale: Scale, factors: Floats) -> Model:
        model = self.models[circuit]
        return model.with_priors("early orders", whole_factors(model, scale.relative(circuit, factors[None])[0]))


def whole_factors(model: Model, factors: Floats) -> dict[str, float]:
    """Factors on the library's rates, from those on what a model began from, shape (C,)."""
    pairs = zip(model.compiled.causes, factors.tolist(), strict=True)
    return {cause: factor * model.factors.get(cause, 1.0) for cause, factor in pairs}


def unseen_orders(patterns: pd.DataFrame, shelf: Shelf, coordinates: Coordinates) -> Unseen:
    """Weigh confirmed orders twice, without and with what was confirmed; all of them must be possible."""
    named = patterns.assign(repairs="", came_back="", followed_days=0)
    blind, sure = (counted(named, shelf, coordinates, blind=blind) for blind in (True, False))
    both = np.intersect1d(blind.places, sure.places)
    hidden, known = (t.counted.of(np.flatnonzero(np.isin(t.places, both))) for t in (blind, sure))
    kept = patterns.iloc[both].reset_index(drop=True)
    return Unseen(kept, hidden, known, severities(kept, shelf))


def _verdict(evaluation: Evaluation | None) -> Verdict:
    if evaluation is None:
        return "too few orders"
    usual = float(evaluation.weight @ evaluation.old.cost / evaluation.weight.sum())
    return verdict(evaluation.gain("loss"), evaluation.gain("cost"), usual)


def _drifted(parted: Split, shelf: Shelf) -> tuple[Drift, ...]:
    """Compare the confirmed causes of earlier and later periods."""
    every = every_cause(shelf.terms)
    kept = parted.at(np.flatnonzero(scorable(parted.patterns, shelf)))
    pairs = list(zip(kept.patterns["circuit"], kept.patterns["causes"], strict=True))
    found = labels(pairs, {key: place for place, key in enumerate(every)})
    before, after = (found.T @ side for side in (kept.early, kept.late))
    numbers = {name: number for number, name in enumerate(shelf.terms)}
    return drifts(before, after, np.array([numbers[circuit] for circuit, _ in every], dtype=np.intp))
