"""What tests show where a table says so: causes joined by noisy-MAX, which is noisy-OR for two outcomes.

The outcomes of a test stand in an order.  Each cause present, and the leak, picks an outcome by its own chances, and
the latest one is seen: P(Y <= y | causes) = L(y) prod C_i(y), with L and C_i the cumulated chances of the leak and of
each cause alone.  For two outcomes that is P(second) = 1 - (1 - l) prod (1 - c_i), the noisy-OR with the leak beside
the causes, not in them (F. Diez, "Parameter adjustment in Bayes networks: the generalized noisy OR-gate", 1993).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.catalogue import Test
from advisor.knowledge.supply import Axis
from advisor.network.engine import Evidence
from advisor.network.linked import Linked
from advisor.network.worlds import NONE, UNLISTED

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


class Prediction(Protocol):
    """What one test would show under every hypothesis, whoever says so."""

    def outcomes(self, scale: float, spread: float) -> Floats:
        """P(outcome | hypothesis) at one supply, as a share of the rest voltage, and its spread: shape (H, O)."""

    def outcome(self, id: str, axis: Axis, extra: float, times: int = 1) -> Evidence:
        """An outcome, seen so many times, as evidence; KeyError where the test has no such outcome."""

    def read(self, value: float | None, axis: Axis, extra: float, times: int = 1) -> Evidence:
        """A reading as evidence; KeyError where the test has none."""

    def linked(self, axis: Axis, kept: Ints) -> Linked:
        """All outcomes in every shared state under some hypotheses."""

    def shown(self, hypothesis: int, scale: float, spread: float) -> float | None:
        """What is predicted under one hypothesis at one supply, None if it never settles."""


def noisy_max(leak: Sequence[float], given: Mapping[int, Sequence[float]], members: Ints) -> Floats:
    """P(outcome | hypothesis), shape (H, O).

    Args:
        leak: P(outcome) without any cause, shape (O,).
        given: P(outcome | cause alone) by the cause's index; a cause that is not there changes nothing.
        members: Causes of each hypothesis, -1 where fewer, shape (H, K).
    """
    below = np.ones((max(members.max(initial=-1), *given, -1) + 2, len(leak)))  # the last row is no cause's
    for cause, chances in given.items():
        below[cause] = _cumulated(chances)
    joint = below[members].prod(axis=1) * _cumulated(leak)
    result: Floats = np.maximum(np.diff(joint, axis=1, prepend=0.0), 0.0)
    return result


def _cumulated(chances: Sequence[float]) -> Floats:
    """P(Y <= y), exactly 1 at the end."""
    return np.append(np.minimum(np.cumsum(chances)[:-1], 1.0), 1.0)


@dataclass(frozen=True)
class Tabulated:
    """A test whose chances are written down; its slips are in them.

    Attributes:
        test: The test.
        table: P(outcome | hypothesis) while its fault shows, shape (H, O).
        quiet: P(it hides | hypothesis), shape (H,).
    """

    test: Test
    table: Floats
    quiet: Floats

    @staticmethod
    def of(test: Test, listed: Floats, quiet: Floats) -> Tabulated:
        """Give what is unlisted its chances: anything, unless it lies elsewhere."""
        table = listed.copy()
        table[UNLISTED] = 1.0 / listed.shape[1]
        return Tabulated(test, table, quiet)

    def outcomes(self, scale: float, spread: float) -> Floats:
        """P(outcome | hypothesis), shape (H, O), at any supply."""
        result = self.table.copy()
        result[UNLISTED] += self.quiet[UNLISTED] * (result[NONE] - result[UNLISTED])
        return result

    def outcome(self, id: str, axis: Axis, extra: float, times: int = 1) -> Evidence:
        """An outcome as evidence; seen again it says no more.

        Raises:
            KeyError: the test has no such outcome.
        """
        ids = [outcome.id for outcome in self.test.outcomes]
        if id not in ids:
            raise KeyError(f"outcome {id} of test {self.test.id}")
        return Evidence.read(self.table[:, ids.index(id)], self.quiet, np.full(len(self.table), NONE), 1.0)

    def read(self, value: float | None, axis: Axis, extra: float, times: int = 1) -> Evidence:
        """Refuse a reading.

        Raises:
            KeyError: always, as the test is answered with an outcome.
        """
        raise KeyError(f"reading of test {self.test.id}, which is answered with an outcome")

    def shown(self, hypothesis: int, scale: float, spread: float) -> float | None:
        """Where the likeliest outcome under one hypothesis begins."""
        return self.test.outcomes[int(self.table[hypothesis].argmax())].low

    def linked(self, axis: Axis, kept: Ints) -> Linked:
        """All outcomes under some hypotheses; no state is shared with other tests."""
        return Linked(
            self.table[kept, None], self.table[[NONE] * len(kept), None], "", 0.0, np.zeros(self.table.shape[1])
        )
