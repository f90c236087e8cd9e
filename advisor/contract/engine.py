"""What the contract needs of the domain, as protocols: a model, a deciding function, a shelf of circuits.

The edges hand an `Engine` in, so that every front end can run on a hand-built model as well.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Protocol

from advisor.contract.rates import Rates
from advisor.decision.advice import Advice, Costs
from advisor.decision.estimate import Allowed
from advisor.knowledge.catalogue import Test, Withheld
from advisor.knowledge.documents import Schematic
from advisor.knowledge.learned import Learned
from advisor.knowledge.model import PRIORS
from advisor.network.findings import Finding


class KnownModel(Protocol):
    """What requests are checked against and answers are worded from."""

    @property
    def schematic(self) -> Schematic:
        """The circuit as its file says."""

    @property
    def tests(self) -> Mapping[str, Test]:
        """Every test that may be proposed, by id."""

    @property
    def withheld(self) -> tuple[Withheld, ...]:
        """The tests that are never proposed."""

    @property
    def knowledge(self) -> str:
        """Hash of the knowledge, sha256:..."""

    @property
    def priors(self) -> str:
        """Name of the release of priors."""

    @property
    def factors(self) -> Mapping[str, float]:
        """By what that release multiplies the library's rate of each cause, where it says something."""

    @property
    def learned(self) -> Learned:
        """What it says beside rates."""

    @property
    def cause_parts(self) -> tuple[str, ...]:
        """Ids of all parts that have causes."""

    @property
    def cause_ids(self) -> tuple[str, ...]:
        """Ids of all causes, PART/MODE."""

    def with_priors(self, name: str, factors: Mapping[str, float], learned: Learned | None = None) -> KnownModel:
        """The same knowledge under a release of this name, with its factors of the causes and what it says beside."""


class Decide(Protocol):
    """The domain's one question: given these findings, what is likely and what is worth doing."""

    def __call__(  # noqa: PLR0913 - the domain's own signature
        self,
        model: Any,  # noqa: ANN401 - each engine knows its own model type; the contract only passes it on
        findings: Sequence[Finding],
        *,
        years: float,
        hours: float,
        opened: frozenset[str],
        costs: Costs,
        depth: int,
        reasons: bool,
        allowed: Allowed | None,
    ) -> Advice:
        """Give the advice; raises ImpossibleFindingsError with pointers."""


@dataclass(frozen=True)
class Engine:
    """The circuits on the shelf (id to file), how one is loaded, and how advice is decided."""

    circuits: Callable[[], Mapping[str, Path]]
    load: Callable[[str], KnownModel]
    decide: Decide

    def under(self, rates: Rates) -> Engine:
        """The same circuits with these rates; what a release says of causes that are there no more is left aside."""
        if rates.name == PRIORS:
            return self
        return replace(self, load=lambda circuit: _held(self.load(circuit), rates))


def _held(model: KnownModel, rates: Rates) -> KnownModel:
    factors = rates.factors.get(model.schematic.id, {})
    known = {cause: factors[cause] for cause in model.cause_ids if cause in factors}
    return model.with_priors(rates.name, known, rates.learned)
