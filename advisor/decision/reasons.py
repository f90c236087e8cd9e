"""Why the first causes stand where they do: weights of evidence beside what the fault would show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.decision.advice import CauseReasons, CauseShare, FindingReason, OddFinding, Reasons
from advisor.knowledge.model import Model
from advisor.knowledge.weighing import weighed
from advisor.network.engine import Posterior
from advisor.network.findings import Finding, SymptomFinding
from advisor.network.leave_out import WeightsOfEvidence, weights_of_evidence
from advisor.network.priors import Prior
from advisor.network.worlds import NONE, SPECIALS

EXPLAINED = 5
"""So many causes from the first are explained."""
RESTLESS = 0.5
"""Chance of jumping about from which a reading is predicted never to settle: judgement, no source."""


@dataclass(frozen=True)
class Explaining:
    """What reasons are made of: the circuit, its prior, the findings, and what they leave."""

    model: Model
    root: Prior
    findings: Sequence[Finding]
    belief: Posterior

    def reasons(self, ranking: Sequence[CauseShare], odd_from: float) -> Reasons:
        """Weigh every finding for and against the first causes and find the odd one.

        Args:
            ranking: The causes, likeliest first.
            odd_from: Expected number of slips from which one finding is odd even where nothing conflicts.
        """
        first = ranking[:EXPLAINED]
        places = [self.model.compiled.causes.index(f"{share.part}/{share.mode}") for share in first]
        evidence = self.model.evidence(self.findings, self.root)
        weights = weights_of_evidence(self.model.worlds, self.root, evidence, self.model.axis.prior, places)
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
                position,
                _known(weights.in_turn[row, column]),
                _known(weights.left_out[row, column]),
                self.shown(finding, alone),
                self.shown(finding, NONE),
            )
            for row, (position, finding, _) in enumerate(weighed(self.findings))
        )

    def _likeliest(self, cause: int) -> int:
        """The hypothesis of this cause alone in the severity that the findings leave likeliest."""
        singles = SPECIALS + np.flatnonzero(self.model.worlds.severity_cause == cause)
        return int(singles[np.argmax(self.belief.weights[singles])])

    def shown(self, finding: Finding, hypothesis: int) -> float | None:
        """What a finding's test shows under a hypothesis at the supply of the case, as in `FindingReason`."""
        if isinstance(finding, SymptomFinding):
            symptom = self.model.worlds.symptoms.index(finding.symptom)
            return float(self.model.worlds.presence[hypothesis, symptom])
        predicted = self.model.predicted[finding.test]
        row = predicted.row[hypothesis]
        if predicted.jumps[row] >= RESTLESS:
            return None
        scale, spread = (np.array([found]) for found in self.model.axis.middle(self.belief.states))
        value = float(predicted.at(scale, spread)[0][row, 0]) if predicted.slips else float(predicted.value[row])
        if not predicted.tool.logarithmic:
            return value
        ohms = 10.0**value
        return float("inf") if ohms >= (predicted.tool.range or np.inf) else ohms

    def _odd(self, weights: WeightsOfEvidence, odd_from: float) -> OddFinding | None:
        """The odd finding where the findings conflict or one is probably a slip."""
        conflicting = (self.belief.conflict_decibans or 0.0) > 0.0
        odd = weights.odd if conflicting else None
        if odd is None and self.belief.slips >= odd_from:
            odd = int(np.argmax(weights.slipped))
        if odd is None:
            return None
        surprise = float(weights.surprise[odd])
        position = weighed(self.findings)[odd][0]
        return OddFinding(position, surprise if surprise > 0.0 else None, float(weights.slipped[odd]))


def _known(weight: float) -> float | None:
    return float(weight) if np.isfinite(weight) else None
