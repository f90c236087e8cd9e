"""Hypotheses as terms of a sum in which factors on rates are powers: what a fit learns by.

The weight of a fault set is a product of its causes' odds, which grow with their rates, plus what place events add,
which do not.  Hypotheses of the same causes (severities) share their factors, so they make one term.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import sparse  # type: ignore[import-untyped]  # it ships no types

from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle, place_events
from advisor.network.priors import prior
from advisor.network.worlds import NONE, SPECIALS, Floats, Ints

_ROOT_MASS = 0.05
"""Root mass of "as designed" and of "unlisted"; it cancels, as intake shares stand for both after a complaint."""


@dataclass(frozen=True, eq=False)
class Terms:
    """The terms of a circuit: its U cause sets by their parts' own rates, then the same sets by place events.

    Attributes:
        model: The circuit.
        set_of: Cause set of each hypothesis, shape (H,); the special ones have none, -1.
        first: A hypothesis of each set, shape (U,).
    """

    model: Model
    set_of: Ints
    first: Ints

    @staticmethod
    def of(model: Model) -> Terms:
        """Put hypotheses of the same causes together."""
        members = np.sort(model.worlds.members[SPECIALS:], axis=1)
        _, first, inverse = np.unique(members, axis=0, return_index=True, return_inverse=True)
        set_of = np.concatenate([np.full(SPECIALS, -1), inverse.reshape(-1)]).astype(np.intp)
        return Terms(model, set_of, first.astype(np.intp) + SPECIALS)

    @property
    def sets(self) -> int:
        """Number of cause sets, U."""
        return len(self.first)

    @cached_property
    def holds(self) -> sparse.csr_array:
        """1 where a term holds a cause, shape (2 U, C)."""
        held = sparse.csr_array(self.model.worlds.holds[self.first].astype(np.float64))
        return sparse.csr_array(sparse.vstack([held, held]))

    @cached_property
    def degrees(self) -> sparse.csr_array:
        """How often the rate of each cause multiplies a term, shape (2 U, C): never what an event gives."""
        held = sparse.csr_array(self.model.worlds.holds[self.first].astype(np.float64))
        return sparse.csr_array(sparse.vstack([held, 0.0 * held]))

    def weights(self, vehicle: Vehicle) -> Floats:
        """Handbook weight of each fault hypothesis by its parts' rates and by events, shape (2, H), specials zero."""
        found = self._kept.get(vehicle)
        if found is None:
            found = self._kept[vehicle] = self._weights(vehicle)
        return found

    @cached_property
    def _kept(self) -> dict[Vehicle, Floats]:
        """By vehicle; bands of age and hours keep them few."""
        return {}

    def _weights(self, vehicle: Vehicle) -> Floats:
        worlds, x = self.model.worlds, self.model.prevalence(vehicle)
        events = place_events(self.model.wiring)
        alone = prior(worlds, x, as_designed=_ROOT_MASS, unlisted=_ROOT_MASS).weights
        both = prior(worlds, x, as_designed=_ROOT_MASS, unlisted=_ROOT_MASS, events=events).weights
        both = both * (alone[NONE] / both[NONE])  # nothing wrong is no event's
        found = np.stack([alone, np.maximum(both - alone, 0.0)])
        found[:, :SPECIALS] = 0.0
        return found

    @cached_property
    def _of_set(self) -> sparse.csr_array:
        """1 where a fault hypothesis is of a cause set, shape (U, H)."""
        faults = np.arange(SPECIALS, len(self.set_of))
        at = (self.set_of[SPECIALS:], faults)
        return sparse.csr_array((np.ones(len(faults)), at), shape=(self.sets, len(self.set_of)))

    def summed(self, values: Floats) -> Floats:
        """Sum values of hypotheses by rates and by events, shape (N, 2, H), over each term, shape (N, 2 U)."""
        sums: Floats = (self._of_set @ values.reshape(-1, values.shape[-1]).T).T
        return sums.reshape(len(values), -1)
