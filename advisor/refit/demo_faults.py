"""What is wrong with vehicles that come in, drawn from models whose rates are multiplied by known factors."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.decision.repairs import RepairPlan, repair_plans
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import NONE
from advisor.refit.columns import YEARS

Floats = NDArray[np.float64]

SPREAD = 0.7
"""Standard deviation of the logarithms of the factors."""
HOURS_PER_YEAR_DRIVEN = 860.0
"""What the fleet drives at its mean way and speed [h/year]."""
PROPOSED = 15
"""Of so many of the most telling tests of a complaint a few are done."""
EVEN = 0.5
"""Power of a circuit's share of all complaints, so that rare circuits have orders too."""


def known_factors(models: Mapping[str, Model], rng: np.random.Generator) -> dict[str, dict[str, float]]:
    """Draw a factor for each cause, log-normal with median 1; circuits that share a part share its factors."""
    causes = sorted({cause for model in models.values() for cause in model.compiled.causes})
    drawn = dict(zip(causes, np.exp(rng.normal(0.0, SPREAD, len(causes))).round(4).tolist(), strict=True))
    return {name: {cause: drawn[cause] for cause in model.compiled.causes} for name, model in models.items()}


@dataclass(frozen=True, eq=False)
class Complaint:
    """A symptom of a circuit, reported of vehicles of one age: P(hypothesis, symptom) by hypothesis, shape (H,)."""

    circuit: str
    symptom: str
    joint: Floats

    @cached_property
    def cumulated(self) -> Floats:
        """Running sums of `joint`, shape (H,)."""
        sums: Floats = np.cumsum(self.joint)
        return sums


class Circuit:
    """One circuit with the true rates, and what a shop that believes the handbook would do about it."""

    def __init__(self, handbook: Model, factors: Mapping[str, float]) -> None:
        self.handbook = handbook
        self.true = handbook.with_priors("demo", factors)
        self.plans: tuple[RepairPlan, ...] = repair_plans(handbook.wiring)
        self._tests: dict[str, list[int]] = {}

    @cached_property
    def cumulated(self) -> Floats:
        """Of every test the cumulated chances of its outcomes, its columns side by side, shape (H, O)."""
        worlds = self.true.worlds
        return np.concatenate([np.cumsum(worlds.likelihood[:, block], axis=1) for block in worlds.columns], axis=1)

    def complaints(self, years: float) -> list[Complaint]:
        """Give every complaint of vehicles of an age [years]."""
        root = self.true.prior(Vehicle(years, years * HOURS_PER_YEAR_DRIVEN))
        return [
            Complaint(self.true.schematic.id, symptom, root.weights * self.true.complaint(root, index))
            for index, symptom in enumerate(self.true.schematic.symptoms)
        ]

    def cures(self, cause: str) -> RepairPlan:
        """Give the cheapest repair of a cause."""
        return min((plan for plan in self.plans if cause in plan.restores), key=lambda plan: (plan.price, plan.id))

    def believed(self, symptom: str) -> Floats:
        """P(cause | symptom) by the handbook, up to a factor, shape (C,): what somebody who guesses goes by."""
        root = self.handbook.prior(Vehicle())
        index = list(self.handbook.schematic.symptoms).index(symptom)
        return self.handbook.worlds.with_cause(root.weights * self.handbook.complaint(root, index))

    def telling(self, symptom: str) -> list[int]:
        """Give the tests that tell most about the cause of a complaint by the handbook, the best first."""
        if symptom not in self._tests:
            root = self.handbook.prior(Vehicle())
            index = list(self.handbook.schematic.symptoms).index(symptom)
            belief = root.weights * self.handbook.complaint(root, index)
            worlds = self.handbook.worlds
            worth = [_told(worlds.likelihood[:, block], belief / belief.sum()) for block in worlds.columns]
            self._tests[symptom] = np.argsort(-np.array(worth), kind="stable")[:PROPOSED].tolist()
        return self._tests[symptom]

    def findings(self, hypothesis: int, symptom: str, rng: np.random.Generator) -> list[dict[str, object]]:
        """Draw what two to five of the telling tests show; a fault that hides reads like none all visit long."""
        worlds = self.true.worlds
        tests = self.telling(symptom)
        count = min(int(rng.integers(2, 6)), len(tests))
        weights = 1.0 / (1.0 + np.arange(len(tests)))
        done = rng.choice(tests, count, replace=False, p=weights / weights.sum())
        shown = NONE if rng.random() < worlds.quiet[hypothesis] else hypothesis
        found: list[dict[str, object]] = []
        for test in done.tolist():
            chances = self.cumulated[shown, worlds.columns[test]]
            outcome = min(int(np.searchsorted(chances, rng.random(), side="right")), len(chances) - 1)
            found.append({"kind": "outcome", "test": worlds.tests[test], "outcome": worlds.outcomes[test][outcome]})
        return found

    def minutes_of(self, findings: Sequence[Mapping[str, object]]) -> float:
        """What tests take [min], each place opened for itself."""
        return sum(self.handbook.tests[str(found["test"])].minutes for found in findings)


def _told(likelihood: Floats, belief: Floats) -> float:
    """Mutual information of a test and the hypothesis [nat]."""
    shown = belief @ likelihood
    logs = np.log(np.maximum(likelihood, 1e-300)) - np.log(np.maximum(shown, 1e-300))
    return float((belief[:, None] * likelihood * logs).sum())


def age_bands() -> Floats:
    """The middles of the bands of age that patterns are counted by [years]."""
    edges = np.array(YEARS, dtype=np.float64)
    middles: Floats = (edges[:-1] + edges[1:]) / 2
    return middles


def shares(complaints: Sequence[Complaint]) -> Floats:
    """Share of each complaint in a shop's orders, circuits made more even; their complaints as they are."""
    mass = np.array([complaint.joint.sum() for complaint in complaints])
    names = np.array([complaint.circuit for complaint in complaints])
    totals = {name: mass[names == name].sum() for name in names}
    evened = mass * np.array([totals[name] ** (EVEN - 1.0) for name in names])
    share: Floats = evened / evened.sum()
    return share
