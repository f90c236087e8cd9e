"""Patterns of orders as arrays: what each says of every term, and what its complaint alone would say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
from scipy import sparse  # type: ignore[import-untyped]  # it ships no types

from advisor.errors import RequestError, RequestProblem
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import SPECIALS, Floats, Ints
from advisor.refit.coordinates import Context, Coordinates, contexts_of
from advisor.refit.terms import Terms
from advisor.refit.weights import Order, Weigher

NEGLIGIBLE = 1e-4
"""Share of a pattern that the lightest terms may have together which are left out of it."""
_TYPICAL = Vehicle()
Row = Mapping[Any, Any]  # Any: pandas does not say what is in a row


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
        return replace(self, count=count)

    @cached_property
    def row_of(self) -> Ints:
        """Pattern of each entry of `share`."""
        return np.repeat(np.arange(self.share.shape[0]), np.diff(self.share.indptr))

    @cached_property
    def usual_row_of(self) -> Ints:
        """Stratum of each entry of `usual`."""
        return np.repeat(np.arange(self.usual.shape[0]), np.diff(self.usual.indptr))

    @cached_property
    def cell(self) -> Ints:
        """Context and term of each entry of `share`, as one number."""
        cell: Ints = self.context[self.stratum][self.row_of] * self.share.shape[1] + self.share.indices
        return cell

    @cached_property
    def usual_cell(self) -> Ints:
        """Context and term of each entry of `usual`, as one number."""
        cell: Ints = self.context[self.usual_row_of] * self.usual.shape[1] + self.usual.indices
        return cell

    @cached_property
    def every_degree(self) -> sparse.csr_array:
        """`degrees` one below the other, shape (X T, J)."""
        return sparse.csr_array(sparse.vstack(list(self.degrees)))


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
    """Weigh a table of patterns.

    Args:
        patterns: `columns.PATTERN_COLUMNS`, every circuit on the shelf.
        shelf: The circuits.
        coordinates: The factors.
        blind: Leave out repairs, what came of them and the cause: what was known when the first repair was chosen.
    """
    building, rows, refused = _Building(shelf, coordinates), [], []
    for place, pattern in enumerate(patterns.to_dict("records")):
        try:
            building.add(pattern, blind=blind)
        except RequestError as error:
            refused.append(Refused(place, int(pattern["count"]), "; ".join(p.message for p in error.problems)))
        else:
            rows.append(place)
    count = patterns["count"].to_numpy(dtype=np.float64)[rows]
    return Taken(building.done(count), np.array(rows, dtype=np.intp), tuple(refused))


@dataclass(frozen=True, eq=False)
class _Stratum:
    """Weights of the fault hypotheses after a complaint alone, by rates and by events, shape (2, H), and their sum."""

    number: int
    weights: Floats
    total: float


class _Building:
    """Rows of the two matrices as they come."""

    def __init__(self, shelf: Shelf, coordinates: Coordinates) -> None:
        self.shelf, self.coordinates = shelf, coordinates
        self.strata: dict[tuple[str, str, Vehicle, int], _Stratum] = {}
        self.share, self.usual = _Lines(), _Lines()
        self.special: list[float] = []
        self.stratum: list[int] = []

    def add(self, pattern: Row, *, blind: bool) -> None:
        """Weigh a pattern; raises RequestError where that cannot be done, and adds nothing then."""
        circuit, weigher = pattern["circuit"], self.shelf.weighers[pattern["circuit"]]
        known = pattern["cause_status"] == "confirmed" and bool(pattern["causes"]) and not blind
        order = Order(pattern["symptom"], pattern["findings"])
        if not known and not blind:  # a confirmed cause leaves nothing for repairs and their results to tell
            after = pattern["repairs"], pattern["came_back"], float(pattern["followed_days"])
            order = Order(pattern["symptom"], pattern["findings"], *after)
        likelihood = weigher.likelihood(order)
        if known:
            likelihood = likelihood * weigher.confirmed(pattern["causes"])
        stratum = self._stratum(circuit, pattern)
        row = self.shelf.terms[circuit].summed(stratum.weights * likelihood) / stratum.total
        shares = weigher.model.intake.all
        special = float(shares @ likelihood[:SPECIALS]) / (1.0 - float(shares.sum()))
        if not special + row.sum() > 0.0:
            raise RequestError([RequestProblem("#", "what is told cannot all be true")])
        self.share.add(row, self.coordinates.offsets[circuit])
        self.special.append(special)
        self.stratum.append(stratum.number)

    def _stratum(self, circuit: str, pattern: Row) -> _Stratum:
        vehicle = Vehicle(*(_known(pattern[name], getattr(_TYPICAL, name)) for name in ("years", "hours")))
        context = self.coordinates.context(pattern["vehicle_group"], pattern["climate"])
        key = (circuit, pattern["symptom"], vehicle, context)
        found = self.strata.get(key)
        if found is None:
            weights = self.shelf.terms[circuit].weights(vehicle) * self.shelf.weighers[circuit].reported(key[1])
            found = self.strata[key] = _Stratum(len(self.strata), weights, float(weights.sum()))
            usual = self.shelf.terms[circuit].summed(weights) / found.total
            self.usual.add(usual, self.coordinates.offsets[circuit])
        return found

    def done(self, count: Floats) -> Counted:
        """All rows together."""
        terms = sum(2 * t.sets for t in self.shelf.terms.values())
        return Counted(
            self.share.matrix(terms),
            np.array(self.special),
            count,
            np.array(self.stratum, dtype=np.intp),
            self.usual.matrix(terms),
            np.array([key[3] for key in self.strata], dtype=np.intp),
            self.coordinates.degrees,
            self.coordinates.block,
        )


class _Lines:
    """Rows of a sparse matrix."""

    def __init__(self) -> None:
        self.data: list[Floats] = []
        self.indices: list[Ints] = []

    def add(self, row: Floats, offset: int) -> None:
        """Add a row, what is negligible left out."""
        order = np.argsort(row)
        kept = np.sort(order[np.cumsum(row[order]) > NEGLIGIBLE * row.sum()])
        self.data.append(row[kept])
        self.indices.append(kept + offset)

    def matrix(self, columns: int) -> sparse.csr_array:
        """All rows."""
        ends = np.cumsum([0, *(len(row) for row in self.data)])
        whole = (np.concatenate(parts) if parts else np.zeros(0) for parts in (self.data, self.indices))
        data, indices = whole
        return sparse.csr_array((data, indices.astype(np.intp), ends), shape=(len(self.data), columns))


def _known(value: float, otherwise: float) -> float:
    return otherwise if np.isnan(value) else float(value)
