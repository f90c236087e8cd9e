"""Which sets of several faults are worth a hypothesis, before any of them is solved.

A set counts by the largest share that it may have in what some symptom says, P(set) P(symptom | set) / P(symptom).
P(symptom | set) is taken at its proved ceiling (`reach`), so that what is left out widens no symptom's bounds much;
that no symptom is reported counts as one that every fault shows, so that plain prior mass has a say.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.network.events import PlaceEvent, mode_share, set_mass

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

LEFT_OUT_AT_MOST = 0.001
"""Sets are added until the estimated shares of all others sum to less than this."""


@dataclass(frozen=True)
class Sieve:
    """What the choice goes by.

    Attributes:
        odds: Of each cause in a usual vehicle, shape (C,).
        cause_part: Index of the part of each cause, shape (C,).
        events: What hits several parts of one place together.
        reported: P(symptom) over single faults, relative to the odds, shape (S,).
        needs: Causes of which a set must hold one to show each symptom, shape (S, C).
        otherwise: P(symptom | set) of a set that holds none of them, at most, shape (S,).
        rows: Hypotheses that a cause takes inside a larger set, its coarse severities, shape (C,).
    """

    odds: Floats
    cause_part: Ints
    events: tuple[PlaceEvent, ...]
    reported: Floats
    needs: NDArray[np.bool_]
    otherwise: Floats
    rows: Ints

    def share(self, sets: Ints) -> Floats:
        """Largest share that each set may have in any symptom, sets of k causes of shape (N, k), shape (N,)."""
        largest = np.full(len(sets), 1.0 / max(self.odds.sum(), np.finfo(float).tiny))
        for reported, needs, otherwise in zip(self.reported, self.needs, self.otherwise, strict=True):
            if reported > 0.0:
                largest = np.maximum(largest, np.where(needs[sets].any(axis=1), 1.0, otherwise) / reported)
        mass: Floats = set_mass(self.odds, self.cause_part, self.events, sets) * largest
        return mass

    def size(self, sets: Ints) -> Ints:
        """Hypotheses that each set takes, shape (N,)."""
        return np.asarray(self.rows[sets].prod(axis=1), dtype=np.intp)


def whole_places(sieve: Sieve) -> list[tuple[int, ...]]:
    """For each place with an event and three parts or more: every part in its likeliest mode."""
    found = []
    for event in sieve.events:
        share = mode_share(sieve.odds, sieve.cause_part, event)
        parts = np.intersect1d(event.parts, sieve.cause_part)
        likeliest = [int(np.where(sieve.cause_part == part, share, -1.0).argmax()) for part in parts]
        if len(likeliest) > 2:
            found.append(tuple(sorted(likeliest)))
    return found


def choose(sieve: Sieve, most: int, beside: frozenset[tuple[int, ...]] = frozenset()) -> list[tuple[int, ...]]:
    """Pairs and triples of causes in falling share per hypothesis, about `most` hypotheses in all.

    With a triple come its three pairs.

    Args:
        sieve: What the choice goes by.
        most: About how many hypotheses.
        beside: Sets that are there already.
    """
    first, second = np.triu_indices(len(sieve.odds), 1)
    apart = sieve.cause_part[first] != sieve.cause_part[second]
    pairs = np.column_stack([first[apart], second[apart]])
    worth = sieve.share(pairs) / sieve.size(pairs)
    kept = _best(worth, sieve.size(pairs), most)
    kept = kept[_left(worth, sieve.size(pairs))[kept] > LEFT_OUT_AT_MOST]
    triples, weakest = _triples(pairs[kept], worth[kept], len(sieve.odds))
    # Never before its pairs, so that whatever is cut off at the end leaves the rest closed under removal.
    above = np.minimum(sieve.share(triples) / sieve.size(triples), weakest)
    sets = [*map(tuple, pairs[kept].tolist()), *map(tuple, triples.tolist())]
    sizes = np.concatenate([sieve.size(pairs[kept]), sieve.size(triples)])
    order = _best(np.concatenate([worth[kept], above]), sizes, most)
    return [sets[i] for i in order if sets[i] not in beside]


def _best(worth: Floats, size: Ints, most: int) -> Ints:
    """Indices in falling worth per hypothesis, equal ones in order, until enough are there."""
    order = np.argsort(-worth, kind="stable")
    chosen: Ints = order[np.cumsum(size[order]) - size[order] < most]
    return chosen


def _left(worth: Floats, size: Ints) -> Floats:
    """Sum of the shares of each set and of all that are worth less per hypothesis, shape (N,)."""
    order = np.argsort(-worth, kind="stable")
    left = np.empty_like(worth)
    left[order] = np.cumsum((worth * size)[order][::-1])[::-1]
    return left


def _triples(pairs: Ints, worth: Floats, causes: int) -> tuple[Ints, Floats]:
    """Triples whose three pairs are among the given ones, shape (N, 3), and the least worth of these, shape (N,)."""
    value = np.zeros((causes, causes))
    value[pairs[:, 0], pairs[:, 1]] = worth
    third = np.minimum(value[pairs[:, 0]], value[pairs[:, 1]])  # pairs are sorted: the third cause comes last
    row, last = np.nonzero(third)
    triples = np.column_stack([pairs[row], last])
    return triples, np.minimum(worth[row], third[row, last])
