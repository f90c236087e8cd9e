"""Joint probabilities of groups of hypotheses with every outcome of every test, all in one product.

A group holds few hypotheses and a hypothesis is in few groups, so the product of the sparse (group x hypothesis)
matrix with the likelihood table reads the table about once, whatever the number of groups.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array  # type: ignore[import-untyped]  # scipy ships no types

from advisor.network.worlds import Floats, Ints, Worlds

_Float = TypeVar("_Float", np.float32, np.float64)

NEGLIGIBLE = 1e-12
"""Hypotheses whose posterior is below this share of the largest are left out of sums over groups."""


@dataclass(frozen=True)
class Groups:
    """Groups of hypotheses: those of group g are `members[starts[g]:starts[g + 1]]`, a hypothesis once in each."""

    members: Ints
    starts: Ints
    hypotheses: int

    @staticmethod
    def of(labels: Ints, count: int) -> Groups:
        """Group hypotheses by their labels, shape (H, K), 0 to `count` - 1; -1 is no group."""
        flat = labels.ravel()
        order = np.argsort(flat, kind="stable")
        order = order[flat[order] >= 0]
        return Groups(order // labels.shape[1], np.searchsorted(flat[order], np.arange(count + 1)), len(labels))

    @staticmethod
    def where(inside: NDArray[np.generic]) -> Groups:
        """Group hypotheses by a table that is not zero where one is in a group, shape (G, H)."""
        group, members = np.nonzero(inside)
        return Groups(members, np.searchsorted(group, np.arange(len(inside) + 1)), inside.shape[1])

    def sums(self, table: Floats, weights: Floats | None = None) -> Floats:
        """Sum the rows of a table (H, O), times the weights (H,) if given, over each group: shape (G, O)."""
        own, members, starts = self._weighing(weights)
        result: Floats = csr_array((own, members, starts), (len(self.starts) - 1, self.hypotheses)) @ table
        return result

    def sums_of_some(self, table: NDArray[_Float], weights: NDArray[_Float]) -> tuple[Ints, NDArray[_Float]]:
        """The groups that weigh anything, and the same sums of these alone, in the precision of the factors."""
        own, members, starts = self._weighing(weights)
        groups = np.flatnonzero(np.diff(starts))
        some = csr_array((own, members, starts[np.append(groups, len(starts) - 1)]), (len(groups), self.hypotheses))
        result: NDArray[_Float] = some @ table
        return groups, result

    def _weighing(self, weights: NDArray[_Float] | None) -> tuple[NDArray[np.floating], Ints, Ints]:
        """Weight and hypothesis of each member that is not negligible, and where each group starts among these."""
        members, starts = self.members, self.starts
        if weights is None:
            return np.ones(len(members)), members, starts
        own = weights[members]
        heavy = own > NEGLIGIBLE * weights.max(initial=0.0)
        return own[heavy], members[heavy], np.append(0, np.cumsum(heavy))[starts]


@dataclass(frozen=True)
class CauseGroups:
    """Severities of the same causes are summed first, each hypothesis once; then the sets that hold each cause."""

    severities: Groups
    sets: Groups


def by_cause(worlds: Worlds) -> CauseGroups:
    """The hypotheses that hold each cause."""
    members, set_of = np.unique(worlds.members, axis=0, return_inverse=True)
    return CauseGroups(Groups.of(set_of.reshape(-1, 1), len(members)), Groups.of(members, len(worlds.causes)))


def cause_tables(worlds: Worlds, groups: CauseGroups, weights: Floats) -> tuple[Floats, Floats]:
    """P(cause | findings, test = outcome) for all tests and outcomes.

    Args:
        worlds: Of C causes, H hypotheses and O outcomes of all tests.
        groups: From `by_cause(worlds)`.
        weights: Posterior after the findings, shape (H,).

    Returns:
        The table, shape (C, O), its columns as those of the likelihood, zero where the outcome is impossible;
        and P(outcome | findings), shape (O,).
    """
    probability = weights @ worlds.likelihood
    table = groups.sets.sums(groups.severities.sums(worlds.likelihood, weights))
    table *= np.divide(1.0, probability, out=np.zeros_like(probability), where=probability > 0.0)
    return table, probability
