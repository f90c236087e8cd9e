"""Hypotheses that every order of repairs treats alike are one class.

That is the coarsest lumping of the chain of repairs in which ends and costs agree (J. Kemeny, J. Snell, "Finite Markov
chains", 1960, section 6.3; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.decision.problem import Problem, Repairs, Tests
from advisor.network.tables import Groups
from advisor.network.worlds import Floats, Ints

Values = NDArray[np.float64] | NDArray[np.intp] | NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Merged:
    """A problem over classes of hypotheses, G of them.

    Attributes:
        problem: Over the classes.
        class_of: Class of each hypothesis, shape (H,).
        groups: The hypotheses of each class.
    """

    problem: Problem
    class_of: Ints
    groups: Groups

    def masses(self, weights: Floats) -> Floats:
        """Weight of each class, shape (G, Q), of weights of shape (H, Q)."""
        return self.groups.sums(weights)

    def mass(self, weights: Floats) -> Floats:
        """Weight of each class, shape (G,), of weights of shape (H,)."""
        mass: Floats = np.bincount(self.class_of, weights, len(self.problem.belief)).astype(np.float64, copy=False)
        return mass


def equal_cures(problem: Problem) -> Ints:
    """Label hypotheses that every order of repairs treats the same, whatever they would read; shape (H,)."""
    return _refined(problem, [problem.passes, problem.ending, problem.fixed])


def _refined(problem: Problem, keys: Sequence[Values]) -> Ints:
    """Split classes until all members of one go, by each repair, to the same class with the same probability."""
    fixed_keys = [*keys, *problem.repairs.success]
    labels, count = _labels(fixed_keys)
    while True:
        moved = [*labels[problem.repairs.after], *labels[problem.repairs.otherwise]]
        finer, more = _labels([labels, *moved])
        if more == count:
            return labels
        labels, count = finer, more


def _labels(columns: Sequence[Values]) -> tuple[Ints, int]:
    """Number the different rows of some columns."""
    labels, count = np.zeros(len(columns[0]), dtype=np.intp), 1
    for column in columns:
        _, own = np.unique(column, return_inverse=True)
        _, labels = np.unique(labels * (int(own.max()) + 1) + own, return_inverse=True)
        count = int(labels.max()) + 1
    return labels, count


def cures_only(problem: Problem) -> Merged:
    """The problem of repairs alone, over hypotheses that every order of repairs treats the same."""
    return cures_of(problem, equal_cures(problem))


def cures_of(problem: Problem, labels: Ints) -> Merged:
    """The same where the classes, shape (H,), numbered from 0, are known."""
    none = Tests(np.zeros((len(problem.belief), 0)), (), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.intp))
    return _over(problem, labels, none)


def _over(problem: Problem, labels: Ints, tests: Tests) -> Merged:
    _, first = np.unique(labels, return_index=True)
    groups = Groups.of(labels[:, None], len(first))
    repairs = problem.repairs
    small = replace(
        problem,
        belief=np.bincount(labels, problem.belief, len(first)).astype(np.float64, copy=False),
        passes=problem.passes[first],
        ending=problem.ending[first],
        fixed=problem.fixed[first],
        tests=replace(tests, likelihood=tests.likelihood[first]),
        repairs=Repairs(
            labels[repairs.after[:, first]],
            repairs.success[:, first],
            labels[repairs.otherwise[:, first]],
            repairs.price,
            repairs.minutes,
            repairs.place,
        ),
    )
    return Merged(small, labels, groups)
