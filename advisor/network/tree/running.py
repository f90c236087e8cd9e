"""Many cases through a compiled network, so many at once as memory and the processor's cache take.

References:
    A. Darwiche, "A differential approach to inference in Bayesian networks", 2003: what evidence taken back leaves is
    a derivative, which one pass down gives for all variables (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.errors import ImpossibleFindingsError, RequestProblem
from advisor.network.tree.compiled import Tree
from advisor.network.tree.cost import LIMIT_BYTES
from advisor.network.tree.evidence import Seen
from advisor.network.worlds import Floats

CACHE_BYTES = 8 * 2**20
"""Size of the largest table of all cases that run at once: what stays in a processor's cache [bytes]."""
_MOST, _LEAST = 512, 8
_NAMED = 20
"""Impossible cases that an error names."""


@dataclass(frozen=True)
class Beliefs:
    """What evidence leaves of some variables.

    Attributes:
        log_evidence: Natural logarithm of P(evidence), shape (B,); soft evidence counts with a largest likelihood of 1.
        by_name: P(state | evidence) of each variable, shape (B, D).
    """

    log_evidence: Floats
    by_name: dict[str, Floats]


def log_evidence(tree: Tree, seen: Seen) -> Floats:
    """Natural logarithm of P(evidence) of every case, minus infinity where it cannot be, shape (B,).

    Soft evidence counts with a largest likelihood of 1.
    """
    parts = [_Pass(tree, seen, rows).log_evidence() for rows in chunks(tree, seen.cases)]
    return np.concatenate(parts) if parts else np.zeros(0)


def posteriors(tree: Tree, seen: Seen, names: Sequence[str] | None = None) -> Beliefs:
    """P(state | evidence) of some variables, or of all.

    Raises:
        ImpossibleFindingsError: the evidence of some case has probability zero; pointers are #/cases/3.
    """
    return _certain(seen, _beliefs(tree, seen, names, own=True))


def possible_posteriors(tree: Tree, seen: Seen, names: Sequence[str] | None = None) -> Beliefs:
    """The same where some cases may be impossible: their logarithm is minus infinity, their posteriors are zeros."""
    return _beliefs(tree, seen, names, own=True)


def retracted(tree: Tree, seen: Seen, names: Sequence[str] | None = None) -> Beliefs:
    """The same with each variable's own evidence taken back: what the others say of it.

    Raises:
        ImpossibleFindingsError: the evidence of some case has probability zero.
    """
    return _certain(seen, _beliefs(tree, seen, names, own=False))


def chunks(tree: Tree, cases: int) -> Iterator[slice]:
    """Which cases run at once."""
    fitting = CACHE_BYTES // (8 * max(tree.cost.largest, 1))
    room = (LIMIT_BYTES - tree.cost.bytes(0)) // max(tree.cost.bytes(1) - tree.cost.bytes(0), 1)
    step = max(min(max(fitting, _LEAST), _MOST, room), 1)
    yield from (slice(start, min(start + step, cases)) for start in range(0, cases, step))


def _beliefs(tree: Tree, seen: Seen, names: Sequence[str] | None, *, own: bool) -> Beliefs:
    wanted = [family.name for family in tree.network.families] if names is None else list(names)
    way, places = tree.on_the_way(wanted), [tree.place[name] for name in wanted]
    logs, tables = np.zeros(seen.cases), [np.zeros((seen.cases, tree.cards[place])) for place in places]
    for rows in chunks(tree, seen.cases):
        run = _Pass(tree, seen, rows)
        logs[rows] = run.log_evidence()
        possible, found = np.isfinite(logs[rows]), run.down(way)
        for place, table in zip(places, tables, strict=True):
            joint = found[place] * run.likelihoods[place] if own else found[place]
            np.divide(joint, joint.sum(axis=0), out=table[rows].T, where=possible)
    return Beliefs(logs, dict(zip(wanted, tables, strict=True)))


def _certain(seen: Seen, beliefs: Beliefs) -> Beliefs:
    """Refuse the beliefs if some case is impossible."""
    cases = np.flatnonzero(~np.isfinite(beliefs.log_evidence)).tolist()
    if not cases:
        return beliefs
    what = "this evidence has probability zero: {}"
    problems = [RequestProblem(f"#/cases/{i}", what.format(seen.described(i))) for i in cases[:_NAMED]]
    if len(cases) > _NAMED:
        problems.append(RequestProblem("#/cases", f"and {len(cases) - _NAMED} more"))
    raise ImpossibleFindingsError(problems)


class _Pass:
    """Some cases on their way up and down."""

    def __init__(self, tree: Tree, seen: Seen, rows: slice) -> None:
        self.tree = tree
        self.cases = rows.stop - rows.start
        self.likelihoods = seen.rows(rows, tree.order, tree.cards)
        everywhere = frozenset(range(len(tree.workers))) if seen.faint else frozenset()
        self.scaled, self.cooled = tree.scaled | everywhere, tree.cooled | everywhere
        self.up: list[Floats] = []
        self.logs = np.zeros(self.cases)
        for number in range(len(tree.workers)):
            self.up.append(self._handed_up(number))

    def _handed_up(self, number: int) -> Floats:
        worker = self.tree.workers[number]
        variable = worker.node.variable
        evidence = None if variable is None else self.likelihoods[variable]
        message = worker.up(evidence, [self.up[i] for i in worker.node.below])
        if number not in self.scaled or not worker.node.up:
            return message
        message, total = scaled(message)
        self.logs += _log(total)
        return message

    def log_evidence(self) -> Floats:
        """Natural logarithm of P(evidence), shape (B,)."""
        roots = [message for worker, message in zip(self.tree.workers, self.up, strict=True) if not worker.node.up]
        return self.logs + sum((_log(message) for message in roots), np.zeros(self.cases))

    def down(self, way: frozenset[int]) -> dict[int, Floats]:
        """P(variable, all evidence but its own) up to a factor, shape (D, B), of the variables on the way."""
        heard: dict[int, Floats] = {}
        found: dict[int, Floats] = {}
        for number in sorted(way, reverse=True):
            worker = self.tree.workers[number]
            above = [heard.pop(number)] if number in heard else []
            below = [self.up[i] for i in worker.node.below]
            seen, sent = worker.down(above, below, self.cases)
            variable = worker.node.variable
            if variable is not None and seen is not None:
                found[variable] = seen
            for i, turn, message in zip(worker.node.below, worker.turns, sent, strict=True):
                if i in way:
                    lit = message if variable is None else turn.evidence([message, self.likelihoods[variable]])
                    heard[i] = scaled(lit)[0] if i in self.cooled else lit
        return found


def scaled(message: Floats) -> tuple[Floats, Floats]:
    """Each case's message made to sum to 1 where it does not vanish, and what it was divided by, shape (B,)."""
    total = np.add.reduce(message, tuple(range(message.ndim - 1)))
    return message / np.where(total > 0.0, total, 1.0), total


def _log(values: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        result: Floats = np.log(values)
    return result
