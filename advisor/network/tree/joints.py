"""The advisor's question: every cause together with every outcome of every test, in the fewest cases."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.errors import ImpossibleFindingsError, RequestProblem
from advisor.network.tree.compiled import Tree
from advisor.network.tree.evidence import Seen
from advisor.network.tree.running import possible_posteriors
from advisor.network.worlds import Floats


@dataclass(frozen=True)
class Joints:
    """P(state of a cause, state of a test | evidence) of every pair.

    Attributes:
        log_evidence: Natural logarithm of P(evidence).
        table: Of all pairs of states, shape (states of all causes, states of all tests).
        rows: The rows of each cause.
        columns: The columns of each test.
        cases: How many cases were run for it.
    """

    log_evidence: float
    table: Floats
    rows: Mapping[str, slice]
    columns: Mapping[str, slice]
    cases: int

    def of(self, cause: str, test: str) -> Floats:
        """One pair, shape (states of the cause, states of the test)."""
        return self.table[self.rows[cause], self.columns[test]]


def joints(tree: Tree, seen: Seen, causes: Sequence[str], tests: Sequence[str]) -> Joints:
    """Every cause together with every test, given the evidence of one case.

    The case is run once for each state of a cause, or of a test if these are fewer, with that state added to what was
    seen; P(cause, test | e) = P(cause | e) P(test | cause, e).

    Raises:
        ImpossibleFindingsError: the evidence has probability zero.
    """
    cards = tree.network.cards
    by_cause = sum(cards[name] for name in causes) <= sum(cards[name] for name in tests)
    given, asked = (causes, tests) if by_cause else (tests, causes)
    rows, columns = _slices(given, cards), _slices(asked, cards)
    count = sum(cards[name] for name in given)
    added = {name: np.ones((count, cards[name])) for name in given}
    for name, mine in rows.items():
        added[name][mine] = np.eye(cards[name])
    found = possible_posteriors(tree, seen.repeated(count).also(added), asked)
    first = found.log_evidence[rows[given[0]]]
    total = float(np.logaddexp.reduce(first))
    if not np.isfinite(total):
        raise ImpossibleFindingsError([RequestProblem("#", f"this evidence has probability zero: {seen.described(0)}")])
    share = np.exp(found.log_evidence - total)
    table = np.concatenate([found.by_name[name] for name in asked], axis=1) * share[:, None]
    return Joints(total, table if by_cause else table.T, *((rows, columns) if by_cause else (columns, rows)), count)


def _slices(names: Sequence[str], cards: Mapping[str, int]) -> dict[str, slice]:
    ends = np.cumsum([0, *(cards[name] for name in names)]).tolist()
    return {name: slice(ends[i], ends[i + 1]) for i, name in enumerate(names)}
