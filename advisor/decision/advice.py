"""The advice as a value: what every front end presents."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.knowledge.catalogue import Withheld
from advisor.knowledge.supply import Supply


@dataclass(frozen=True)
class Costs:
    """What time and parts cost: labour [money per hour], hand-over price [money], currency."""

    labour_per_hour: float = 85.0
    hand_over: float = 250.0
    currency: str = "EUR"

    def labour(self, minutes: float) -> float:
        """Price of working time [money]."""
        return minutes / 60.0 * self.labour_per_hour


@dataclass(frozen=True)
class CauseShare:
    """A cause in the ranking: posterior share with its truncation bounds.

    `group` names the section of the circuit that it lies in; `on_chart` is None where the reported symptom has
    no printed chart.
    """

    part: str
    mode: str
    probability: float
    low: float
    high: float
    repair: str | None
    on_chart: bool | None
    group: str = ""


@dataclass(frozen=True)
class TestWorth:
    """A proposable test: its price now, its expected net saving, its predicted outcomes."""

    __test__ = False  # not a pytest class

    test: str
    minutes: float
    cost: float
    worth: float
    outcome_probabilities: tuple[float, ...]


@dataclass(frozen=True)
class RepairShare:
    """A repair in the order in which it would be tried; probability that it touches a present cause."""

    repair: str
    title: str
    minutes: float
    cost: float
    probability: float


@dataclass(frozen=True)
class NextStep:
    """The next step: kind is test, repair, no_fault, as_designed, unlisted or hand_over."""

    kind: str
    id: str | None
    reason: str


@dataclass(frozen=True)
class Advice:
    """Ranked causes, worth of tests, repairs and the next step for one set of findings.

    Probabilities are normalised over the enumerated hypotheses; money in the currency of
    the costs; `conflict_decibans` is None below two findings; `expected_slips` is how many of the findings are
    probably a wrong cavity or a misread value; `least_cost` is what no plan can cost less than, by who knows the fault,
    None one step ahead; `supply` is None where no reading stands on one.
    """

    evidence_probability: float
    omitted_mass: float
    conflict_decibans: float | None
    no_fault: float
    as_designed: float
    unlisted: float
    causes: tuple[CauseShare, ...]
    tests: tuple[TestWorth, ...]
    withheld: tuple[Withheld, ...]
    repairs: tuple[RepairShare, ...]
    next: NextStep
    expected_cost_now: float
    expected_cost_after_next: float
    supply: Supply | None
    least_cost: float | None = None
    expected_slips: float = 0.0
