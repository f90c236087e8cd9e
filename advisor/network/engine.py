"""From findings to posterior weights, exactly over the enumerated hypotheses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.network.priors import Prior
from advisor.network.shared import Shared, Together, together
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED, Floats, Worlds

_SPECIAL = (NONE, AS_DESIGNED, UNLISTED)


@dataclass(frozen=True)
class IntakeShares:
    """Posterior shares of none, as designed and unlisted right after a complaint."""

    no_fault: float
    as_designed: float
    unlisted: float

    @property
    def all(self) -> Floats:
        """The three shares in the order of the special hypotheses."""
        return np.array([self.no_fault, self.as_designed, self.unlisted])


@dataclass(frozen=True)
class Evidence:
    """One finding as a likelihood.

    Attributes:
        likelihood: P(finding | hypothesis) by itself, shape (H,).
        bound: Its largest value under anything.
        slipped: Part of the likelihood that a slip (wrong cavity, misread) gives, one number for all hypotheses.
        shared: The same for every state that it shares with other findings, or None if it shares none.
    """

    likelihood: Floats
    bound: float
    slipped: float = 0.0
    shared: Shared | None = None


@dataclass(frozen=True)
class Posterior:
    """What the findings leave.

    Attributes:
        weights: Posterior of each hypothesis, shape (H,), summing to 1.
        evidence: P(findings).
        conflict_decibans: 10 log10 of prod P(e_i) / P(e); None below two findings.
        low: Lower truncation bound of each cause, shape (C,).
        high: Upper truncation bound of each cause, shape (C,).
        slips: Expected number of findings that are slips, sum of P(slip_i | findings).
        states: Posterior of the shared states, shape (G,).
    """

    weights: Floats
    evidence: float
    conflict_decibans: float | None
    low: Floats
    high: Floats
    slips: float
    states: Floats


def symptom_likelihood(worlds: Worlds, prior: Prior, intake: IntakeShares, symptom: int) -> Floats:
    """P(symptom reported | hypothesis) with selection, shape (H,).

    For none, as designed and unlisted: P(s|x) = rho_x / (1 - sum rho) * F_s / pi_x, where F_s is the
    reported mass of all fault hypotheses, so that right after the complaint P(x|s) = rho_x.  Faults that do
    not start the symptom are in a vehicle no less often for its complaint than in a sound one: what is
    reported of none is reported of them too, P(s|h) = b + (1 - b) presence with b = P(s|none).

    Raises:
        ValueError: a root mass is too small for its share.
    """
    presence, faults = worlds.presence[:, symptom], prior.weights.copy()
    faults[list(_SPECIAL)] = 0.0
    ratio = intake.all / (1.0 - intake.all.sum()) / prior.weights[list(_SPECIAL)]  # P(s|x) / F_s
    shown = float(faults @ presence)
    # F = sum pi (b + (1 - b) presence) with b = ratio_none F, solved for F
    reported = shown / (1.0 - ratio[0] * (float(faults.sum()) - shown))
    special = ratio * reported
    if (special > 1.0).any():
        raise ValueError("the root mass of an intake share is too small for this symptom")
    likelihood: Floats = special[0] + (1.0 - special[0]) * presence
    likelihood[list(_SPECIAL)] = special
    return likelihood


def posterior(
    worlds: Worlds, prior: Prior, findings: Sequence[Evidence], states: Floats | None = None
) -> Posterior | None:
    """Multiply the prior by the likelihood of all findings; None where the findings have probability zero.

    Args:
        worlds: Of H hypotheses and C causes.
        prior: Their root distribution.
        findings: What was learned.
        states: Prior of the states that findings share, shape (G,); None takes all findings as independent.

    References:
        Bounds from omitted prior mass: D. Poole, "Probabilistic conflicts in a search algorithm for
        estimating posterior probabilities in Bayesian networks", Artificial Intelligence 88, 1996.
    """
    apart = [f for f in findings if states is None or f.shared is None]
    joint = prior.weights * np.prod([f.likelihood for f in apart], axis=0, initial=1.0)
    linked = _linked(findings, states, joint)
    joint = joint * linked.likelihood
    total = float(joint.sum())
    if not total > 0.0:
        return None
    ceiling = float(np.prod([f.bound for f in findings]))
    with_cause = worlds.with_cause(joint)
    without = np.maximum(prior.omitted - prior.omitted_with, 0.0)
    low = with_cause / (total + without * ceiling)
    high = (with_cause + prior.omitted_with * ceiling) / (total + prior.omitted_with * ceiling)
    weights = joint / total
    slips = _slips(weights, apart) + linked.slips
    return Posterior(weights, total, _conflict(prior, findings, total), low, high, slips, linked.states)


def _linked(findings: Sequence[Evidence], states: Floats | None, weights: Floats) -> Together:
    """The findings that share states, summed over them."""
    known = np.ones(1) if states is None else states
    shared = [f.shared for f in findings if f.shared is not None] if states is not None else []
    return together(shared, known, weights) if shared else Together(np.ones(len(weights)), known, 0.0)


def _slips(weights: Floats, findings: Sequence[Evidence]) -> float:
    """P(slip_i | e) = sum over h of P(h | e) P(slip, y_i | h) / P(y_i | h), summed over the findings."""
    possible = weights > 0.0  # a finding that a hypothesis cannot give has left it no weight
    parts = [float(weights[possible] @ np.minimum(f.slipped / f.likelihood[possible], 1.0)) for f in findings]
    return sum(parts)


def _conflict(prior: Prior, findings: Sequence[Evidence], total: float) -> float | None:
    """Jensen, Chamberlain, Nordahl, Jensen 1991: log of prod P(e_i) / P(e), here in decibans."""
    if len(findings) < 2:
        return None
    singly = sum(float(np.log10(prior.weights @ f.likelihood)) for f in findings)
    return 10.0 * (singly - float(np.log10(total)))
