"""Why the first causes stand where they do: weights of evidence beside what the fault would show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decision.advice import CauseReasons, CauseShare, FindingReason, OddFinding, Reasons
from advisor.decision.history import History
from advisor.knowledge.model import Model
from advisor.knowledge.showing import shown
from advisor.network.engine import Posterior
from advisor.network.leave_out import WeightsOfEvidence, weights_of_evidence
from advisor.network.priors import Prior
from advisor.network.worlds import NONE, SPECIALS

EXPLAINED = 5
"""So many causes from the first are explained."""


@dataclass(frozen=True)
class Explaining:
    """What reasons are made of: the circuit, its prior, the findings, and what they leave."""

    model: Model
    root: Prior
    history: History
    belief: Posterior

    def reasons(self, ranking: Sequence[CauseShare], odd_from: float) -> Reasons:
        """Weigh every finding for and against the first causes and find the odd one.

        Args:
            ranking: The causes, likeliest first.
            odd_from: Expected number of slips from which one finding is odd even where nothing conflicts.
        """
        first = ranking[:EXPLAINED]
        places = [self.model.compiled.causes.index(f"{share.part}/{share.mode}") for share in first]
        told, states = self.history.evidence, self.model.axis.prior
        weights = weights_of_evidence(self.model.worlds, self.root, told, states, places, self.history.paths)
        assert weights is not None, "the findings left a posterior"
        return Reasons(
            tuple(
                CauseReasons(share.part, share.mode, self._of_cause(weights, column, place))
                for column, (share, place) in enumerate(zip(first, places, strict=True))
            ),
            self._odd(weights, odd_from),
        )

    def _of_cause(self, weights: WeightsOfEvidence, column: int, place: int) -> tuple[FindingReason, ...]:
        alone = self._likeliest(place)
        return tuple(
            FindingReason(
                told.position,
                _known(weights.in_turn[row, column]),
                _known(weights.left_out[row, column]),
                shown(self.model, told.finding, alone, self.belief.states),
                shown(self.model, told.finding, NONE, self.belief.states),
            )
            for row, told in enumerate(self.history.told)
        )

    def _likeliest(self, cause: int) -> int:
        """The hypothesis of this cause alone in the severity that the findings leave likeliest."""
        singles = SPECIALS + np.flatnonzero(self.model.worlds.severity_cause == cause)
        return int(singles[np.argmax(self.belief.weights[singles])])

    def _odd(self, weights: WeightsOfEvidence, odd_from: float) -> OddFinding | None:
        """The likeliest slip where one is to be expected, else the finding that makes a conflict, if there is one."""
        if self.belief.slips >= odd_from:
            odd = int(np.argmax(weights.slipped))
        elif (self.belief.conflict_decibans or 0.0) > 0.0 and weights.odd is not None:
            odd = weights.odd
        else:
            return None
        surprise = float(weights.surprise[odd])
        position = self.history.told[odd].position
        return OddFinding(position, surprise if surprise > 0.0 else None, float(weights.slipped[odd]))


def _known(weight: float) -> float | None:
    return float(weight) if np.isfinite(weight) else None
