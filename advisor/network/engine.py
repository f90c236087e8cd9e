"""From findings to posterior weights, exactly over the enumerated hypotheses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.network.paths import Paths
from advisor.network.priors import Prior
from advisor.network.shared import Shared, Together, together
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED, Floats, Ints, Worlds

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
        likelihood: P(finding | hypothesis) by itself, whether the fault hides or not, shape (H,).
        bound: Its largest value under anything.
        slipped: Part of the likelihood that a slip (wrong cavity, misread) gives, one number for all hypotheses.
        shared: The same for every state that it shares with other findings, or None if it shares none.
        unsolved: Largest joint mass of the finding and the sets not enumerated, whole and with each cause, shape
            (C,); None where nothing better is known than all their mass times the bound.
        either: The same while the fault shows, and while it hides, shape (H,) each; None where that makes no
            difference.
    """

    likelihood: Floats
    bound: float
    slipped: float = 0.0
    shared: Shared | None = None
    unsolved: tuple[float, Floats] | None = None
    either: tuple[Floats, Floats] | None = None

    @staticmethod
    def read(  # noqa: PLR0913, PLR0917  the parts of a finding
        shows: Floats, quiet: Floats, hidden: Ints, bound: float, slipped: float = 0.0, shared: Shared | None = None
    ) -> Evidence:
        """A finding of a test.

        Args:
            shows: P(finding | hypothesis) while no fault hides, shape (H,).
            quiet: P(it hides | hypothesis), shape (H,).
            hidden: The hypothesis as which each is seen then, shape (H,): none wherever states are shared.
            bound: Its largest value under anything.
            slipped: Part of it that a slip gives.
            shared: The same in every shared state.
        """
        either = (shows, shows[hidden])
        return Evidence((1.0 - quiet) * shows + quiet * either[1], bound, slipped, shared, either=either)

    def along(self, stands: Ints) -> Evidence:
        """The same for paths that stand in these hypotheses, shape (P,)."""
        shared = self.shared.at(stands) if self.shared else None
        either = (self.either[0][stands], self.either[1][stands]) if self.either else None
        return replace(self, likelihood=self.likelihood[stands], shared=shared, either=either)

    @property
    def shows(self) -> Floats:
        """P(finding | hypothesis) while its fault shows, shape (H,)."""
        return self.either[0] if self.either else self.likelihood

    @property
    def hidden(self) -> Floats:
        """P(finding | hypothesis) while its fault hides, shape (H,)."""
        return self.either[1] if self.either else self.likelihood


@dataclass(frozen=True)
class Posterior:
    """What the findings leave.

    Attributes:
        weights: Posterior of each hypothesis, shape (H,), summing to 1.
        evidence: P(findings).
        conflict_decibans: 10 log10 of prod P(e_i) / P(e); None below two findings.
        low: Lower truncation bound of each cause, shape (C,).
        high: Upper truncation bound of each cause, shape (C,).
        slipped: P(slip | findings) of each finding, shape (N,).
        states: Posterior of the shared states, shape (G,).
        hiding: P(there is a fault that did not show in any test | findings).
        showing: The weights where a listed fault that has not shown counts as none: what tests have to do with,
            shape (H,).
        mirrored: P(read from the other side | findings) of each connector that was probed.
    """

    weights: Floats
    evidence: float
    conflict_decibans: float | None
    low: Floats
    high: Floats
    slipped: Floats
    states: Floats
    hiding: float
    showing: Floats
    mirrored: Mapping[str, float] = field(default_factory=dict)

    @property
    def slips(self) -> float:
        """Expected number of findings that are slips."""
        return float(self.slipped.sum())


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


def symptom_unsolved(prior: Prior, symptom: int, base: float, otherwise: float) -> tuple[float, Floats] | None:
    """Largest joint mass of a reported symptom and the sets not enumerated, as in `Evidence`.

    Sets that are not able to show it are reported with b + (1 - b) `otherwise` at most, b = `base` = P(s|none).
    """
    if not prior.able:
        return None
    able, able_with = prior.able[symptom]
    ceiling = base + (1.0 - base) * otherwise
    mass = able + max(prior.unsolved - able, 0.0) * ceiling
    return mass, able_with + np.maximum(prior.unsolved_with - able_with, 0.0) * ceiling


def posterior(
    worlds: Worlds,
    prior: Prior,
    findings: Sequence[Evidence],
    states: Floats | None = None,
    paths: Paths | None = None,
) -> Posterior | None:
    """Multiply the prior by the likelihood of all findings; None where the findings have probability zero.

    After repairs the findings are those of P paths, and what is left of them is where the paths have come to.

    Args:
        worlds: Of H hypotheses and C causes.
        prior: Their root distribution.
        findings: What was learned.
        states: Prior of the states that findings share, shape (G,); None takes all findings as independent.
        paths: What repairs have done; None where there were none.

    References:
        Bounds from omitted prior mass: D. Poole, "Probabilistic conflicts in a search algorithm for
        estimating posterior probabilities in Bayesian networks", Artificial Intelligence 88, 1996.
    """
    gone = paths or Paths.untouched(len(prior.weights))
    before = gone.weights(prior)
    alone = np.array([states is None or f.shared is None for f in findings], dtype=bool)
    apart = [f for f, by_itself in zip(findings, alone, strict=True) if by_itself]
    joint, hides, linked = _joint(worlds, before, findings, states, gone)
    total = float(joint.sum())
    if not total > 0.0:
        return None
    low, high = _bounds(worlds, prior, joint, findings, gone)
    slipped = np.zeros(len(findings))
    slipped[alone], slipped[~alone] = _slips(joint / total, apart), linked.slipped
    weights, hidden = (gone.folded(part / total, len(prior.weights)) for part in (joint, hides))
    conflict, hiding = _conflict(before, findings, total), float(hidden.sum())
    hidden[UNLISTED] = 0.0  # what tests show of it holds both
    showing = weights - hidden
    showing[NONE] += hidden.sum()
    return Posterior(weights, total, conflict, low, high, slipped, linked.states, hiding, showing, linked.mirrored)


def begun(
    worlds: Worlds, prior: Prior, findings: Sequence[Evidence], states: Floats | None, paths: Paths | None
) -> Floats:
    """P(findings, hypothesis in which the vehicle came), shape (H,): what is learned of rates, whatever was repaired.

    Args and shapes are those of `posterior`.
    """
    gone = paths or Paths.untouched(len(prior.weights))
    joint, _, _ = _joint(worlds, gone.weights(prior), findings, states, gone)
    return np.bincount(gone.start, joint, minlength=len(prior.weights)).astype(np.float64, copy=False)


def _joint(
    worlds: Worlds, before: Floats, findings: Sequence[Evidence], states: Floats | None, gone: Paths
) -> tuple[Floats, Floats, Together]:
    """P(findings, path), its part where the fault hides, shape (P,) each, and what linked findings leave."""
    apart = [f for f in findings if states is None or f.shared is None]
    quiet = worlds.quiet[gone.now] * gone.whole
    shows = before * (1.0 - quiet) * np.prod([f.shows for f in apart], axis=0, initial=1.0)
    hides = before * quiet * np.prod([f.hidden for f in apart], axis=0, initial=1.0)
    linked = _linked(findings, states, shows, hides)
    shows, hides = shows * linked.likelihood[:-1], hides * linked.likelihood[-1]
    return shows + hides, hides, linked


def _linked(findings: Sequence[Evidence], states: Floats | None, shows: Floats, hides: Floats) -> Together:
    """The findings that share states, summed over them; one more path, the last, stands for all that hide.

    What hides reads like none in every finding.
    """
    known = np.ones(1) if states is None else states
    shared = [f.shared for f in findings if f.shared is not None] if states is not None else []
    split = np.append(shows, hides.sum())
    if not shared:
        return Together(np.ones(len(split)), known, np.zeros(0))
    rows = np.append(np.arange(len(shows)), NONE)
    return together([finding.at(rows) for finding in shared], known, split)


def _bounds(
    worlds: Worlds, prior: Prior, joint: Floats, findings: Sequence[Evidence], paths: Paths
) -> tuple[Floats, Floats]:
    """Least and largest share of each cause, whatever the sets that nobody has solved would show.

    A hypothesis counts for its own set only; the sets that it stands for may show anything.  So may what a repair has
    left of a set that is not enumerated, and of a set that nobody has solved no repair is known to leave less.
    """
    having, without = _unsolved(prior, findings)
    lost = float(joint[~paths.solved].sum())
    if len(paths.stands) > 1:
        having, without = having + lost, (having + without).max() + lost
    count = len(prior.weights)
    share = worlds.with_cause(paths.folded(joint, count)) / joint.sum()
    certain = np.divide(prior.own, prior.weights, out=np.zeros(count), where=prior.weights > 0.0)
    own = paths.folded(certain[paths.start] * joint * paths.solved, count)
    total, with_cause = float(own.sum()), worlds.with_cause(own)
    low = np.divide(with_cause, total + without, out=np.zeros_like(share), where=total + without > 0.0)
    high = np.divide(with_cause + having, total + having, out=np.ones_like(share), where=total + having > 0.0)
    return np.minimum(low, share), np.maximum(high, share)


def _unsolved(prior: Prior, findings: Sequence[Evidence]) -> tuple[Floats, Floats]:
    """Largest joint mass of the findings and the sets that nobody has solved, with and without each cause, shape (C,).

    One finding may say how much of that mass is able to give it, the others scale it by their bounds.  Every such
    estimate holds, so the least is taken.
    """
    bounds = np.array([f.bound for f in findings])
    found = [(prior.unsolved * bounds.prod(), prior.unsolved_with * bounds.prod())]
    for i, finding in enumerate(findings):
        if finding.unsolved is not None:
            mass, holding = finding.unsolved
            others = np.delete(bounds, i).prod()
            found.append((mass * others, holding * others))
    without = np.min([mass - holding for mass, holding in found], axis=0)
    return np.min([holding for _, holding in found], axis=0), np.maximum(without, 0.0)


def _slips(weights: Floats, findings: Sequence[Evidence]) -> list[float]:
    """P(slip_i | e) = sum over h of P(h | e) P(slip, y_i | h) / P(y_i | h) of each finding."""
    possible = weights > 0.0  # a finding that a hypothesis cannot give has left it no weight
    return [float(weights[possible] @ np.minimum(f.slipped / f.likelihood[possible], 1.0)) for f in findings]


def _conflict(before: Floats, findings: Sequence[Evidence], total: float) -> float | None:
    """Jensen, Chamberlain, Nordahl, Jensen 1991: log of prod P(e_i) / P(e), here in decibans."""
    if len(findings) < 2:
        return None
    singly = sum(float(np.log10(before @ f.likelihood)) for f in findings)
    return 10.0 * (singly - float(np.log10(total)))
