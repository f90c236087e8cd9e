"""From factors of all kinds to one factor on each cause's rate, relative to a total that the handbook keeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import Floats
from advisor.refit.coordinates import Coordinates
from advisor.refit.counted import Counted
from advisor.refit.fitting import Fit, Gamma, events, fit, shared
from advisor.refit.intervals import Known, closed_form, drawn, known, variance_of_log


@dataclass(frozen=True, eq=False)
class Rates:
    """What was learned of the causes of one circuit, each array of shape (C,).

    Attributes:
        factors: By what the candidate multiplies the rates that it began from.
        known: 90 % intervals of the same with the handbook held as firmly as usual; they hold the factors; what is
            learned is of the cause's own factor.
        closed: The same in closed form.
        events: Expected orders that were about each cause, in all circuits that share it.
    """

    factors: Floats
    known: Known
    closed: Known
    events: Floats


@dataclass(frozen=True, eq=False)
class Scale:
    """What makes factors relative: without exposure only ratios are learned, so the sum of all rates stays.

    Attributes:
        coordinates: All factors.
        share: Of all orders, those of each context, shape (X,).
    """

    coordinates: Coordinates
    share: Floats

    @staticmethod
    def of(coordinates: Coordinates, counted: Counted) -> Scale:
        """Weigh contexts by their orders."""
        orders = np.bincount(counted.context[counted.stratum], counted.count, minlength=len(coordinates.contexts))
        return Scale(coordinates, orders / max(float(orders.sum()), 1.0))

    def absolute(self, circuit: str, factors: Floats) -> Floats:
        """Factor of each cause for the usual mix of vehicles, shape (D, C), from D sets of factors, shape (D, J)."""
        logs, mixed = np.log(factors), 0.0
        for context, share in zip(self.coordinates.contexts, self.share, strict=True):
            mixed = mixed + share * np.exp(logs @ self.coordinates.of_causes(circuit, context).T)
        return np.asarray(mixed)

    def totals(self, factors: Floats) -> Floats:
        """By what the sum of all rates would grow, a part shared by circuits counted once, shape (D,)."""
        before, after, seen = 0.0, np.zeros(len(factors)), np.zeros(len(self.coordinates.all), dtype=bool)
        for circuit, terms in self.coordinates.terms.items():
            model = terms.model
            rate = np.bincount(model.worlds.severity_cause, model.prevalence(Vehicle()))
            own = self.coordinates.of_causes(circuit)[:, self.coordinates.block == 0].indices
            rate = np.where(seen[own], 0.0, rate)
            seen[own] = True
            before, after = before + float(rate.sum()), after + self.absolute(circuit, factors) @ rate
        return after / before

    def relative(self, circuit: str, factors: Floats) -> Floats:
        """The same as `absolute`, relative to the total."""
        return self.absolute(circuit, factors) / self.totals(factors)[:, None]


def rates_of(counted: Counted, coordinates: Coordinates, found: Fit, seed: int) -> Mapping[str, Rates]:
    """Give the candidate's factors of every circuit with their intervals."""
    usual, scale = Gamma.around_one(coordinates.shape()), Scale.of(coordinates, counted)
    best = fit(counted, usual, found.factors)
    draws = drawn(counted, usual, best.factors, seed)
    own = coordinates.block == 0
    number = np.where(own, events(counted, shared(counted, found.factors)), 0.0)
    rates = {}
    for circuit in coordinates.terms:
        combine = coordinates.of_causes(circuit).toarray()
        factors = scale.relative(circuit, found.factors[None])[0]
        spoken = known(scale.relative(circuit, draws), combine @ variance_of_log(usual.shape))
        mine = coordinates.of_causes(circuit)[:, own].indices  # its part type's factor is learned from other parts too
        plain = known(draws[:, mine], variance_of_log(usual.shape[mine]))
        closed = _times(closed_form(counted, usual, best.factors, combine), 1.0 / scale.totals(best.factors[None])[0])
        rates[circuit] = Rates(
            factors, _including(replace(spoken, learned=plain.learned), factors), closed, combine @ number
        )
    return rates


def _including(found: Known, factors: Floats) -> Known:
    """Intervals widened to hold what is released: a firmer hold on the handbook may pull it out."""
    return replace(found, low=np.minimum(found.low, factors), high=np.maximum(found.high, factors))


def _times(found: Known, scale: float) -> Known:
    return replace(found, middle=found.middle * scale, low=found.low * scale, high=found.high * scale)
