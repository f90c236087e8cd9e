"""What each finding says for and against a cause, and which finding fits the others worst."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.network.engine import Evidence, Posterior, posterior
from advisor.network.paths import Paths
from advisor.network.priors import Prior
from advisor.network.worlds import Bools, Floats, Worlds


@dataclass(frozen=True)
class WeightsOfEvidence:
    """The weight of evidence of N findings for C causes [decibans]; plus is for the cause, NaN where odds have no end.

    Attributes:
        in_turn: One finding after the other, each on top of those before it, shape (N, C).
        left_out: Each on top of all others, shape (N, C).
        surprise: By how much the conflict of all findings falls without each, shape (N,) [decibans].
        slipped: P(slip | all findings) of each, shape (N,).
    """

    in_turn: Floats
    left_out: Floats
    surprise: Floats
    slipped: Floats

    @property
    def odd(self) -> int | None:
        """The finding without which the conflict falls most, of equals the likeliest slip; None if it falls nowhere."""
        if not len(self.surprise) or not self.surprise.max() > 0.0:
            return None
        equal = np.isclose(self.surprise, self.surprise.max(), rtol=0.0, atol=1e-6)
        return int(np.argmax(np.where(equal, self.slipped, -1.0)))


def weights_of_evidence(  # noqa: PLR0913, PLR0917  what a posterior is made of, and the causes
    worlds: Worlds,
    prior: Prior,
    findings: Sequence[Evidence],
    states: Floats | None,
    causes: Sequence[int],
    paths: Paths | None = None,
) -> WeightsOfEvidence | None:
    """Weigh each finding for and against some causes; None where the findings have probability zero.

    The weight of evidence is 10 log10 of the Bayes factor, which is the change of the log odds that a finding makes.
    What findings share is summed out each time, so a finding's weight depends on those beside it.

    Args:
        worlds: Of H hypotheses.
        prior: Their root distribution.
        findings: N findings in the order in which they were made.
        states: Prior of the states that findings share, shape (G,); None takes all findings as independent.
        causes: C causes by their place in `worlds.causes`.
        paths: What repairs have done; None where there were none.

    References:
        I. J. Good, Probability and the Weighing of Evidence, 1950, chapter 6; Weight of Evidence: A Brief Survey,
        Bayesian Statistics 2, 1985.  From memory.
    """
    whole = posterior(worlds, prior, findings, states, paths)
    if whole is None:
        return None
    count = len(findings)
    before = [posterior(worlds, prior, findings[:n], states, paths) for n in range(count)]
    without = [posterior(worlds, prior, [*findings[:n], *findings[n + 1 :]], states, paths) for n in range(count)]
    holding = [(worlds.members == cause).any(axis=1) for cause in causes]
    steps = np.array([_log_odds(found, holding) for found in [*before, whole]])
    rest = np.array([_log_odds(found, holding) for found in without]).reshape(count, len(causes))
    return WeightsOfEvidence(
        _finite(steps[1:], steps[:-1]),
        _finite(steps[-1:].repeat(count, axis=0), rest),
        _surprise(paths.weights(prior) if paths else prior.weights, findings, whole.evidence, without),
        whole.slipped,
    )


def _log_odds(found: Posterior | None, holding: Sequence[Bools]) -> list[float]:
    """Odds of each cause [decibans]; the weights beside it are summed for themselves, since one minus a share is noise.

    Infinite where a side has no weight, NaN where nothing is left.
    """
    if found is None:
        return [float("nan")] * len(holding)
    sides = np.array([(found.weights[held].sum(), found.weights[~held].sum()) for held in holding]).reshape(-1, 2)
    with np.errstate(divide="ignore"):
        odds: list[float] = (10.0 * (np.log10(sides[:, 0]) - np.log10(sides[:, 1]))).tolist()
    return odds


def _finite(after: Floats, before: Floats) -> Floats:
    known = np.isfinite(after) & np.isfinite(before)
    return np.where(known, np.where(known, after, 0.0) - np.where(known, before, 0.0), np.nan)


def _surprise(
    before: Floats, findings: Sequence[Evidence], evidence: float, without: Sequence[Posterior | None]
) -> Floats:
    """10 log10 of P(e_i) / P(e_i | the others), by which each finding raises the conflict of all."""
    ratios = [
        float(before @ finding.likelihood) * (rest.evidence if rest else np.nan) / evidence
        for finding, rest in zip(findings, without, strict=True)
    ]
    result: Floats = 10.0 * np.log10(np.array(ratios))
    return result
