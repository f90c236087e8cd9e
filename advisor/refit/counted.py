"""Patterns of orders as arrays: what each says of every term, and what its complaint alone would say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd
from scipy import sparse  # type: ignore[import-untyped]  # it ships no types

from advisor.knowledge.model import Model
from advisor.network.worlds import Floats, Ints
from advisor.refit.coordinates import Context, Coordinates, contexts_of
from advisor.refit.terms import Terms
from advisor.refit.together import Together
from advisor.refit.weights import Weigher


@dataclass(frozen=True, eq=False)
class Counted:
    """N patterns of S strata (one circuit, complaint, age, hours, context) over T terms.

    P(pattern | complaint) is proportional to `special` + sum of `share` m / sum of `usual` m, where m is what factors
    make of each term.

    Attributes:
        share: Handbook share of each term times the likelihood of the pattern under it, shape (N, T).
        special: The same of nothing wrong, as designed and not listed, in units of all faults' share, shape (N,).
        count: Orders of each pattern, shape (N,).
        stratum: Of each pattern, shape (N,).
        usual: Handbook share of each term after the complaint alone, rows summing to 1, shape (S, T).
        context: Of each stratum, shape (S,).
        degrees: How often each factor multiplies each term, shape (T, J), by context.
        block: Which factors are updated together, shape (J,).
        exposure: Orders of each stratum that handbook rates would give, shape (S,); None where nobody knows.
    """

    share: sparse.csr_array
    special: Floats
    count: Floats
    stratum: Ints
    usual: sparse.csr_array
    context: Ints
    degrees: tuple[sparse.csr_array, ...]
    block: Ints
    exposure: Floats | None = None

    def of(self, rows: Ints) -> Counted:
        """The same for some of the patterns."""
        return replace(
            self,
            share=self.share[rows],
            special=self.special[rows],
            count=self.count[rows],
            stratum=self.stratum[rows],
        )

    def times(self, count: Floats) -> Counted:
        """The same patterns with other counts, shape (N,)."""
        other = replace(self, count=count)
        other.__dict__.update({name: value for name, value in self.__dict__.items() if name in _WHATEVER_COUNTS})
        return other

    @cached_property
    def row_of(self) -> Ints:
        """Pattern of each entry of `share`."""
        return np.repeat(np.arange(self.share.shape[0]), np.diff(self.share.indptr))

    @cached_property
    def _cells(self) -> tuple[Ints, Ints, Ints]:
        """Cells of a context and a term that occur, shape (K,); that of each entry of `share` and of `usual`."""
        terms, stratum_of = self.share.shape[1], np.repeat(np.arange(len(self.context)), np.diff(self.usual.indptr))
        given = self.context[self.stratum][self.row_of] * terms + self.share.indices
        alone = self.context[stratum_of] * terms + self.usual.indices
        occurs = np.zeros(len(self.degrees) * terms, dtype=bool)
        occurs[given], occurs[alone] = True, True
        number = np.cumsum(occurs) - 1
        return np.flatnonzero(occurs), number[given], number[alone]

    @property
    def cell(self) -> Ints:
        """Cell of each entry of `share`."""
        return self._cells[1]

    @cached_property
    def share_cells(self) -> sparse.csr_array:
        """`share` by cell, shape (N, K)."""
        cells, cell, _ = self._cells
        return sparse.csr_array((self.share.data, cell, self.share.indptr), shape=(self.share.shape[0], len(cells)))

    @cached_property
    def usual_cells(self) -> sparse.csr_array:
        """`usual` by cell, shape (S, K)."""
        cells, _, cell = self._cells
        return sparse.csr_array((self.usual.data, cell, self.usual.indptr), shape=(self.usual.shape[0], len(cells)))

    @cached_property
    def every_degree(self) -> sparse.csr_array:
        """How often each factor multiplies each cell, shape (K, J)."""
        return sparse.csr_array(sparse.vstack(list(self.degrees), format="csr")[self._cells[0]])


_WHATEVER_COUNTS = {"row_of", "_cells", "share_cells", "usual_cells", "every_degree"}
"""What is worked out of patterns once, whatever their counts."""


@dataclass(frozen=True)
class Refused:
    """Orders that the network cannot weigh: their place in the table of patterns, how many, and why."""

    place: int
    count: int
    reason: str


@dataclass(frozen=True, eq=False)
class Shelf:
    """The circuits of a fit, each with its terms and its weigher."""

    terms: Mapping[str, Terms]
    weighers: Mapping[str, Weigher]

    @staticmethod
    def of(models: Mapping[str, Model]) -> Shelf:
        """Make circuits ready."""
        return Shelf({n: Terms.of(m) for n, m in models.items()}, {n: Weigher(m) for n, m in models.items()})

    def only(self, names: Iterable[str]) -> Shelf:
        """The same for some circuits."""
        kept = list(names)
        return Shelf({name: self.terms[name] for name in kept}, {name: self.weighers[name] for name in kept})

    def coordinates(self, patterns: pd.DataFrame) -> Coordinates:
        """The factors that patterns can tell apart."""
        every = contexts_of(list(zip(patterns["vehicle_group"], patterns["climate"], strict=True)))
        return Coordinates(self.terms, tuple(dict.fromkeys(every)) or (Context(),))


@dataclass(frozen=True, eq=False)
class Taken:
    """Patterns as arrays; `places` are their rows in the table that they came from, shape (N,)."""

    counted: Counted
    places: Ints
    refused: tuple[Refused, ...]


def counted(patterns: pd.DataFrame, shelf: Shelf, coordinates: Coordinates, *, blind: bool = False) -> Taken:
    """Weigh a table of patterns, those of a circuit together.

    Args:
        patterns: `columns.PATTERN_COLUMNS`, every circuit on the shelf.
        shelf: The circuits.
        coordinates: The factors.
        blind: Leave out repairs, what came of them and the cause: what was known when the first repair was chosen.
    """
    circuit = patterns["circuit"].to_numpy()
    mine = {name: np.flatnonzero(circuit == name) for name in shelf.terms}
    parts = {
        name: Together(shelf.terms[name], shelf.weighers[name], coordinates).rows(patterns.iloc[rows], blind=blind)
        for name, rows in mine.items()
    }
    places = np.concatenate([mine[name][part.places] for name, part in parts.items()])
    order, count = np.argsort(places), patterns["count"].to_numpy(dtype=np.float64)
    starts = np.cumsum([0, *(part.usual.shape[0] for part in parts.values())])
    stratum = np.concatenate([part.stratum + start for part, start in zip(parts.values(), starts, strict=False)])
    found = Counted(
        sparse.csr_array(sparse.block_diag([part.share for part in parts.values()], format="csr")[order]),
        np.concatenate([part.special for part in parts.values()])[order],
        count[places[order]],
        stratum[order],
        sparse.csr_array(sparse.block_diag([part.usual for part in parts.values()], format="csr")),
        np.concatenate([part.context for part in parts.values()]),
        coordinates.degrees,
        coordinates.block,
    )
    refused = sorted((int(mine[name][row]), why) for name, part in parts.items() for row, why in part.refused.items())
    return Taken(found, places[order], tuple(Refused(row, int(count[row]), why) for row, why in refused))
