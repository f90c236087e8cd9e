"""What a vehicle has gone through: the hypothesis that it began in, and where each repair has left it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from advisor.network.priors import Prior
from advisor.network.worlds import Bools, Floats, Ints


@dataclass(frozen=True)
class Paths:
    """Ways from a hypothesis through all repairs, P of them; the first H are those on which every repair succeeds.

    Attributes:
        start: The hypothesis of each before anything was done, shape (P,).
        chance: P(this way | its start), shape (P,).
        stands: The hypothesis that each stands in, before the first repair and after each, shape (P,) each.
        solved: Whether every hypothesis on the way is the very one, not the nearest that there is, shape (P,).
    """

    start: Ints
    chance: Floats
    stands: tuple[Ints, ...]
    solved: Bools

    @staticmethod
    def untouched(count: int) -> Paths:
        """The ways of a vehicle that nobody has repaired."""
        own = np.arange(count)
        return Paths(own, np.ones(count), (own,), np.ones(count, dtype=bool))

    def repaired(self, after: Ints, solved: Bools, bad: float) -> Paths:
        """Go on through a repair; where it has something to cure it fails with a chance and leaves all as it was.

        Args:
            after: What it leaves of each hypothesis when it succeeds, shape (H,).
            solved: Whether that is the very one, shape (H,).
            bad: Chance that the new part or the work is bad.
        """
        there = self.now
        fails = np.flatnonzero(after[there] != there)
        chance = self.chance.copy()
        chance[fails] *= 1.0 - bad
        return Paths(
            np.append(self.start, self.start[fails]),
            np.append(chance, self.chance[fails] * bad),
            (*(np.append(stood, stood[fails]) for stood in self.stands), np.append(after[there], there[fails])),
            np.append(self.solved & solved[there], self.solved[fails]),
        )

    @property
    def now(self) -> Ints:
        """The hypothesis that each way has come to, shape (P,)."""
        return self.stands[-1]

    def weights(self, prior: Prior) -> Floats:
        """Prior of each way, shape (P,)."""
        weights: Floats = prior.weights[self.start] * self.chance
        return weights

    def folded(self, weights: Floats, count: int) -> Floats:
        """Weights of the ways, shape (P,), by where they have come to, shape (H,)."""
        return np.bincount(self.now, weights, minlength=count).astype(np.float64, copy=False)

    def until(self, stretch: int) -> Paths:
        """The same ways, looked at after so many repairs."""
        return replace(self, stands=self.stands[: stretch + 1])
