"""Patterns of one circuit weighed together: rows of likelihoods times handbook weights, summed over terms at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy import sparse  # type: ignore[import-untyped]  # it ships no types

from advisor.errors import RequestError
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import SPECIALS, Bools, Floats, Ints
from advisor.refit.coordinates import Coordinates
from advisor.refit.order import Order
from advisor.refit.terms import Terms
from advisor.refit.weights import Weigher

NEGLIGIBLE = 1e-4
"""Share of a pattern that the lightest terms may have together which are left out of it."""
AT_ONCE = 256
"""So many patterns are in memory at once."""
IMPOSSIBLE = "what is told cannot all be true"
_TOLD = ("symptom", "findings", "repairs", "came_back", "followed_days", "causes", "cause_status")
_WHOSE = ("symptom", "years", "hours", "vehicle_group", "climate")


@dataclass(frozen=True, eq=False)
class Rows:
    """N patterns of a circuit over its terms, and their S strata; arrays as in `counted.Counted`.

    `places` are their rows in the table that they came from, `refused` says of other rows why they cannot be weighed.
    """

    share: sparse.csr_array
    special: Floats
    stratum: Ints
    places: Ints
    usual: sparse.csr_array
    context: Ints
    refused: dict[int, str]


class _Read(NamedTuple):
    """A pattern that can be read; causes are named where they are confirmed."""

    tests: tuple[str, ...]
    order: Order
    causes: str
    place: int


@dataclass(frozen=True, eq=False)
class Together:
    """Weighs the patterns of one circuit."""

    terms: Terms
    weigher: Weigher
    coordinates: Coordinates
    _numbers: dict[tuple[str, Vehicle, int], int] = field(default_factory=dict)

    def rows(self, patterns: pd.DataFrame, *, blind: bool) -> Rows:
        """Weigh patterns of this circuit."""
        refused: dict[int, str] = {}
        read = sorted(self._read(patterns, refused, blind=blind), key=_likeness)
        places = np.array([each.place for each in read], dtype=np.intp)
        stratum = self._strata(patterns.iloc[places])
        share, special, able = [sparse.csr_array((0, 2 * self.terms.sets))], [np.zeros(0)], [np.zeros(0, dtype=bool)]
        for at in range(0, len(read), AT_ONCE):
            rows, alone = self._weighed(read[at : at + AT_ONCE], stratum[at : at + AT_ONCE])
            possible = alone + rows.sum(axis=1) > 0.0
            share.append(_cut(rows[possible]))
            special.append(alone[possible])
            able.append(possible)
        possible = np.concatenate(able)
        refused |= dict.fromkeys(places[~possible].tolist(), IMPOSSIBLE)
        return Rows(
            sparse.csr_array(sparse.vstack(share)),
            np.concatenate(special),
            stratum[possible],
            places[possible],
            self._usual(sparse.csr_array(sparse.vstack(share)), stratum[possible]),
            np.array([context for _, _, context in self._numbers], dtype=np.intp),
            refused,
        )

    def _read(self, patterns: pd.DataFrame, refused: dict[int, str], *, blind: bool) -> Iterator[_Read]:
        """Give the patterns that can be read; of the others note why not, by their place."""
        columns = zip(*(patterns[name].tolist() for name in _TOLD), strict=True)
        for place, (symptom, findings, repairs, came_back, days, causes, status) in enumerate(columns):
            known = status == "confirmed" and bool(causes) and not blind
            if known or blind:  # a confirmed cause leaves nothing for repairs and their results to tell
                order = Order(symptom, findings, first=True)
            else:
                order = Order(symptom, findings, repairs, came_back, float(days))
            try:
                told = self.weigher.read(order)
                if known:
                    self._confirmed(causes)
            except RequestError as error:
                refused[place] = "; ".join(problem.message for problem in error.problems)
                continue
            tests = tuple(getattr(finding, "test", "") for finding in told)
            yield _Read(tests, order, causes if known else "", place)

    def _strata(self, patterns: pd.DataFrame) -> Ints:
        """Number of the stratum of each pattern, shape (N,); a new one for a complaint, vehicle and context not met."""
        if not len(patterns):
            return np.zeros(0, dtype=np.intp)
        group = patterns.groupby(list(_WHOSE), dropna=False, sort=False).ngroup().to_numpy()
        first = patterns[list(_WHOSE)].iloc[np.unique(group, return_index=True)[1]]
        numbers: Ints = np.array([self._number(*each) for each in first.to_numpy().tolist()], dtype=np.intp)[group]
        return numbers

    def _number(self, symptom: str, years: float, hours: float, group: str, climate: str) -> int:
        usual = Vehicle()
        vehicle = Vehicle(usual.years if np.isnan(years) else years, usual.hours if np.isnan(hours) else hours)
        key = (symptom, vehicle, self.coordinates.context(group, climate))
        return self._numbers.setdefault(key, len(self._numbers))

    def _confirmed(self, causes: str) -> Bools:
        """Hypotheses that hold confirmed causes, shape (H,); all where none are."""
        found = self._kept.get(causes)
        if found is None:
            found = self._kept[causes] = self.weigher.confirmed(causes)
        return found

    @cached_property
    def _kept(self) -> dict[str, Bools]:
        return {}

    def _weighed(self, chunk: Sequence[_Read], stratum: Ints) -> tuple[Floats, Floats]:
        """Rows of terms, shape (n, 2 U), and what the special hypotheses have in units of them, shape (n,)."""
        likelihood = np.empty((len(chunk), len(self.terms.set_of)))
        for row, (before, each) in enumerate(zip([None, *chunk], chunk, strict=False)):
            if before is None or before.order != each.order:
                found = self.weigher.likelihood(each.order)
            likelihood[row] = found * self._confirmed(each.causes)
        keys = list(self._numbers)
        weights = np.stack([self._stratum(*keys[number][:2]) for number in stratum])  # (n, 2, H)
        weights *= likelihood[:, None, :]
        shares = self.weigher.model.intake.all
        special = likelihood[:, :SPECIALS] @ shares / (1.0 - float(shares.sum()))
        return self.terms.summed(weights), special

    def _stratum(self, symptom: str, vehicle: Vehicle) -> Floats:
        """Shares of the fault hypotheses after a complaint alone, by rates and by events, shape (2, H)."""
        found = self._shares.get((symptom, vehicle))
        if found is None:
            weights = self.terms.weights(vehicle) * self.weigher.reported(symptom)
            found = self._shares[symptom, vehicle] = weights / weights.sum()
        return found

    @cached_property
    def _shares(self) -> dict[tuple[str, Vehicle], Floats]:
        return {}

    def _usual(self, share: sparse.csr_array, stratum: Ints) -> sparse.csr_array:
        """Handbook share of each term in each stratum after the complaint alone, shape (S, 2 U).

        A term that some pattern of a stratum has is not left out of it, however light: else a factor could raise what
        happened without what was to be expected, beyond any bound.
        """
        parts, rows = [sparse.csr_array((0, 2 * self.terms.sets))], np.repeat(stratum, np.diff(share.indptr))
        for number, (symptom, vehicle, _) in enumerate(self._numbers):
            row = self.terms.summed(self._stratum(symptom, vehicle)[None])
            kept = _cut(row).toarray()
            had = share.indices[rows == number]
            kept[0, had] = row[0, had]
            parts.append(sparse.csr_array(kept))
        return sparse.csr_array(sparse.vstack(parts))


def _likeness(read: _Read) -> tuple[object, ...]:
    """What brings patterns of the same tests, and then of the same order, one after the other."""
    order = read.order
    return read.tests, order.symptom, order.findings, order.repairs, order.came_back, order.followed_days, read.causes


def _cut(rows: Floats) -> sparse.csr_array:
    """Rows with what is negligible left out."""
    rising = np.sort(rows, axis=1)
    below = np.cumsum(rising, axis=1) <= NEGLIGIBLE * rows.sum(axis=1, keepdims=True)
    least = np.take_along_axis(rising, np.minimum(below.sum(axis=1), rows.shape[1] - 1)[:, None], axis=1)
    return sparse.csr_array(np.where((rows >= least) & (rows > 0.0), rows, 0.0))
