"""What a vehicle has gone through: the hypothesis that it began in, and where each repair has left it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.network.priors import Prior
from advisor.network.worlds import NONE, Bools, Floats, Ints


@dataclass(frozen=True)
class Paths:
    """Ways from a hypothesis through all repairs, P of them; the first H are those on which every repair succeeds.

    Attributes:
        start: The hypothesis of each before anything was done, shape (P,).
        chance: P(this path | its start), shape (P,).
        stands: The hypothesis that each stands in, before the first repair and after each, shape (P,) each.
        solved: Whether every hypothesis on the path is the very one, not the nearest that there is, shape (P,).
        whole: Whether it has not been changed by any repair, so that what hides has hidden all along, shape (P,).
    """

    start: Ints
    chance: Floats
    stands: tuple[Ints, ...]
    solved: Bools
    whole: Bools

    @staticmethod
    def untouched(count: int) -> Paths:
        """The paths of a vehicle that nobody has repaired."""
        own = np.arange(count)
        return Paths(own, np.ones(count), (own,), np.ones(count, dtype=bool), np.ones(count, dtype=bool))

    def repaired(self, after: Ints, solved: Bools, bad: float, quiet: Floats | None = None) -> Paths:
        """Go on through a repair; where it has something to cure it fails with a chance and leaves all as it was.

        A fault that has hidden until it was cured read as if nothing were wrong.

        Args:
            after: What it leaves of each hypothesis when it succeeds, shape (H,).
            solved: Whether that is the very one, shape (H,).
            bad: Chance that the new part or the work is bad.
            quiet: P(a fault hides | hypothesis), shape (H,).
        """
        there = self.now
        hides = np.zeros(len(there)) if quiet is None else quiet[there] * self.whole
        fails = np.flatnonzero(after[there] != there)
        hidden = fails[hides[fails] > 0.0]
        chance = self.chance.copy()
        chance[fails] *= (1.0 - bad) * (1.0 - hides[fails])
        source = np.concatenate([np.arange(len(there)), fails, hidden])
        silent = np.arange(len(source)) >= len(there) + len(fails)
        worked = (np.arange(len(source)) < len(there)) | silent
        return Paths(
            self.start[source],
            np.concatenate([chance, self.chance[fails] * bad, self.chance[hidden] * (1.0 - bad) * hides[hidden]]),
            (
                *(np.where(silent, NONE, stood[source]) for stood in self.stands),
                np.where(worked, after[there[source]], there[source]),
            ),
            self.solved[source] & (solved[there[source]] | ~worked),
            self.whole[source] & (after[there[source]] == there[source]) | ~worked & self.whole[source],
        )

    @property
    def now(self) -> Ints:
        """The hypothesis that each path has come to, shape (P,)."""
        return self.stands[-1]

    def weights(self, prior: Prior) -> Floats:
        """Prior of each path, shape (P,)."""
        weights: Floats = prior.weights[self.start] * self.chance
        return weights

    def folded(self, weights: Floats, count: int) -> Floats:
        """Weights of the paths, shape (P,), by where they have come to, shape (H,)."""
        return np.bincount(self.now, weights, minlength=count).astype(np.float64, copy=False)
