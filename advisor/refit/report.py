"""What a refit came to, as one value that text, page and file are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from advisor.network.worlds import Floats
from advisor.refit import scoring
from advisor.refit.candidate import Json, Made
from advisor.refit.evaluating import Scores, summary
from advisor.refit.learning import Learned
from advisor.refit.minutes import Took
from advisor.refit.movers import Mover, movers
from advisor.refit.predicting import every_cause
from advisor.refit.slips import Slip
from advisor.refit.statements import Trust
from advisor.refit.verdict import LEAST_ORDERS, Gain

SENTENCES = {
    "better": "The new rates predict confirmed causes better than the old ones on orders that they have not seen.",
    "no worse": "The new rates are no worse than the old ones on orders that they have not seen; they are not surely "
    "better.",
    "worse": "The new rates are worse than the old ones on orders that they have not seen. Do not release them.",
    "too few orders": "There are too few confirmed later orders to say whether the new rates are better. Keep the old "
    "ones, or release the new ones knowing that nothing proves them.",
}


@dataclass(frozen=True, eq=False)
class Report:
    """All that is told of a refit.

    Attributes:
        learned: What was learned.
        patterns: From which patterns.
        made: How the candidate came about.
        titles: Title of each circuit.
        candidate: The candidate as JSON values.
        rows: Rows of the file.
        reasons: Rows rejected by the short name of the reason.
        slips: How often instruments mislead.
        took: How long work takes.
        trusts: How far statements of customers can be trusted.
    """

    learned: Learned
    patterns: pd.DataFrame
    made: Made
    titles: Mapping[str, str]
    candidate: Json
    rows: int
    reasons: Mapping[str, int]
    slips: tuple[Slip, ...] = ()
    took: tuple[Took, ...] = ()
    trusts: tuple[Trust, ...] = ()

    @property
    def sentence(self) -> str:
        """The verdict for people."""
        return SENTENCES[self.learned.verdict]

    @property
    def least(self) -> int:
        """Confirmed later orders below which nothing is said."""
        return LEAST_ORDERS

    @cached_property
    def movers(self) -> tuple[Mover, ...]:
        """The causes that moved most."""
        return movers(self.learned)

    @cached_property
    def counts(self) -> Mapping[str, int]:
        """Orders by circuit."""
        return {str(k): int(v) for k, v in self.patterns.groupby("circuit")["count"].sum().items()}

    @cached_property
    def statuses(self) -> Mapping[str, int]:
        """Orders by how sure their cause is."""
        found = self.patterns.groupby(self.patterns["cause_status"].replace("", "unknown"))["count"].sum()
        return {name: int(found.get(name, 0)) for name in ("confirmed", "believed", "unknown")}

    @cached_property
    def sides(self) -> Mapping[str, Mapping[str, float]]:
        """Means of the scores, old and new; empty without proof."""
        proof = self.learned.evaluation
        if proof is None:
            return {}
        seed = self.made.seed
        return {name: summary(found, proof.weight, np.random.default_rng(seed)) for name, found in proof.sides}

    def gain(self, what: str) -> Gain:
        """A paired gain; asked only with proof."""
        assert self.learned.evaluation is not None
        return self.learned.evaluation.gain(what)

    @cached_property
    def curves(self) -> Mapping[str, scoring.Curve]:
        """Calibration of the likeliest cause, old and new."""
        proof = self.learned.evaluation
        return {} if proof is None else {name: _curve(found, proof.weight) for name, found in proof.sides}

    @cached_property
    def fixing(self) -> tuple[tuple[str, str, int, float, float], ...]:
        """Circuit, complaint, later orders, cost to fix by the old and by the new rates; most orders first."""
        proof = self.learned.evaluation
        if proof is None:
            return ()
        table = proof.patterns[["circuit", "symptom"]].assign(
            n=proof.weight, old=proof.weight * proof.old.cost, new=proof.weight * proof.new.cost
        )
        sums = table.groupby(["circuit", "symptom"], as_index=False).sum().sort_values("n", ascending=False)
        return tuple(
            (str(c), str(s), int(n), float(old / n), float(new / n))
            for c, s, n, old, new in sums.itertuples(index=False, name=None)
        )

    @cached_property
    def drifts(self) -> tuple[tuple[str, str, float, float, float], ...]:
        """Circuit, cause, share before and after, and how likely by chance."""
        every = every_cause(self.learned.coordinates.terms)
        return tuple((*every[d.place], d.share_before, d.share_after, d.p) for d in self.learned.drifts)

    @cached_property
    def told(self) -> tuple[int, int]:
        """How many causes orders say something of, and of how many there are."""
        learned = [~rates.known.from_handbook for rates in self.learned.rates.values()]
        return int(sum(row.sum() for row in learned)), sum(len(row) for row in learned)

    @cached_property
    def multipliers(self) -> tuple[tuple[str, str, float], ...]:
        """Kind, whose, and value of each factor that is no single cause's."""
        rows = zip(self.learned.coordinates.all, self.learned.fit.factors.tolist(), strict=True)
        return tuple((c.kind, c.shown, factor) for c, factor in rows if c.kind != "cause")


def _curve(found: Scores, weight: Floats) -> scoring.Curve:
    return scoring.curve(found.top, found.hit, weight, scoring.equal_mass(found.top, weight))
