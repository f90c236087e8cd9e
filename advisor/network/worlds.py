"""The compiled network as inert arrays: hypotheses and what each would show.

A hypothesis is a set of at most `K` causes, at most one of a part; K is the largest that the data hold.  The
first three are special: none (nothing wrong), as designed (nothing wrong, the behaviour is normal) and unlisted
(something the model does not contain); they hold no cause.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

NONE, AS_DESIGNED, UNLISTED = 0, 1, 2
SPECIALS = 3
TOLERANCE = 1e-9
ELSEWHERE = 0.5
"""Share of faults that are not listed which lie elsewhere, so that whatever is tested reads as if nothing were wrong:
judgement, no source."""


@dataclass(frozen=True)
class Worlds:
    """Hypotheses and the likelihood of every outcome under each.

    Attributes:
        causes: C cause ids, PART/MODE.
        cause_part: Index of the part of each cause, shape (C,).
        severity_cause: Cause of each of the V severities in which causes come, grouped by cause, shape (V,).
        members: Causes of each hypothesis, -1 where fewer, shape (H, K).
        severities: First and one past the last severity of each member, shape (H, K, 2).
        tests: Test ids; `outcomes` are their outcome ids in the same order.
        likelihood: P(outcome | hypothesis) while its fault shows, one test's columns side by side, shape (H, O).
        symptoms: S symptom ids.
        presence: P(symptom shows | hypothesis), before selection, shape (H, S).
        hides: P(all that is tested in a visit reads as if nothing were wrong | hypothesis), shape (H,): of faults that
            come and go, and of unlisted ones that lie elsewhere; None where only these do.
    """

    causes: tuple[str, ...]
    cause_part: Ints
    severity_cause: Ints
    members: Ints
    severities: Ints
    tests: tuple[str, ...]
    outcomes: tuple[tuple[str, ...], ...]
    likelihood: Floats
    symptoms: tuple[str, ...]
    presence: Floats
    hides: Floats | None = None

    def __post_init__(self) -> None:
        count = len(self.members)
        if not count == len(self.severities) == len(self.likelihood) == len(self.presence):
            raise ValueError("members, severities, likelihood and presence must have as many rows as hypotheses")
        # Each check is written so that NaN fails it.
        for test, columns in zip(self.tests, self.columns, strict=True):
            block = self.likelihood[:, columns]
            if not ((block >= 0.0).all() and (np.abs(block.sum(axis=1) - 1.0) <= TOLERANCE).all()):
                raise ValueError(f"the outcome probabilities of test {test} do not sum to 1")
        if not ((self.presence >= 0.0) & (self.presence <= 1.0)).all():
            raise ValueError("a symptom's probability is outside 0 to 1")
        if not ((self.quiet >= 0.0) & (self.quiet <= 1.0)).all() or self.quiet[NONE] > 0.0:
            raise ValueError("a chance to hide is outside 0 to 1, or where nothing is wrong something hides")
        if (self.members[:SPECIALS] >= 0).any():
            raise ValueError("none, as designed and unlisted hold no cause")

    @cached_property
    def quiet(self) -> Floats:
        """`hides` of every hypothesis, shape (H,)."""
        if self.hides is not None:
            return self.hides
        quiet = np.zeros(len(self.members))
        quiet[UNLISTED] = ELSEWHERE
        return quiet

    @cached_property
    def columns(self) -> tuple[slice, ...]:
        """The columns of `likelihood` that belong to each test."""
        ends = np.cumsum([0, *(len(ids) for ids in self.outcomes)])
        return tuple(slice(int(a), int(b)) for a, b in pairwise(ends))

    @cached_property
    def column_of(self) -> dict[tuple[str, str], int]:
        """The column of each (test, outcome)."""
        flat = [(test, outcome) for test, ids in zip(self.tests, self.outcomes, strict=True) for outcome in ids]
        return {key: column for column, key in enumerate(flat)}

    @cached_property
    def sizes(self) -> Ints:
        """Number of causes of each hypothesis, shape (H,)."""
        sizes: Ints = (self.members >= 0).sum(axis=1)
        return sizes

    @cached_property
    def holds(self) -> Bools:
        """Which hypothesis holds which cause, shape (H, C)."""
        result = np.zeros((len(self.members), len(self.causes) + 1), dtype=bool)
        np.put_along_axis(result, self.members, True, axis=1)  # -1 is the last, spare column
        return result[:, :-1]

    @cached_property
    def _entries(self) -> tuple[Ints, Ints]:
        """Hypothesis and cause of every membership."""
        rows, columns = np.nonzero(self.members >= 0)
        return rows, self.members[rows, columns]

    def with_cause(self, weights: Floats) -> Floats:
        """Total weight, shape (H,), of the hypotheses that hold each cause, shape (C,)."""
        rows, causes = self._entries
        return np.bincount(causes, weights[rows], minlength=len(self.causes)).astype(np.float64, copy=False)
