"""A problem without the hypotheses that hardly weigh, so that comparing steps costs by what is likely, not by H."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from advisor.decision.bounds import KnownFault
from advisor.decision.merging import cures_of
from advisor.decision.orders import Mover
from advisor.decision.outlook import Outlook
from advisor.decision.problem import Problem, Repairs
from advisor.network.worlds import Floats, Ints

LIGHT = 2e-3
"""Share of a belief that may be left out, its lightest hypotheses first: three of four hypotheses or more."""
_WORTHWHILE = 0.7
"""Share of the hypotheses above which leaving out the others saves nothing."""


@dataclass(frozen=True, eq=False)
class Narrowed:
    """An outlook over some of the hypotheses, closed under repairs.

    Attributes:
        outlook: Over those that are kept.
        kept: Their indices in the whole problem.
    """

    outlook: Outlook
    kept: Ints


def heaviest(weights: Floats) -> Ints:
    """The hypotheses without the lightest ones, which weigh no more than `LIGHT` of all together."""
    order = np.argsort(weights, kind="stable")
    return order[np.searchsorted(np.cumsum(weights[order]), LIGHT * weights.sum()) :]


def narrowed(outlook: Outlook, weights: Floats) -> Narrowed:
    """Leave out what is light under a belief, shape (H,), and is left by no repair of what is not."""
    kept = _closed(outlook.problem.repairs, heaviest(weights))
    if len(kept) > _WORTHWHILE * len(weights):
        return Narrowed(outlook, np.arange(len(weights)))
    problem = _among(outlook.problem, kept)
    _, labels = np.unique(outlook.cures.class_of[kept], return_inverse=True)
    cures = cures_of(problem, labels)
    return Narrowed(Outlook(problem, KnownFault(problem), cures, Mover.of(cures.problem)), kept)


def _closed(repairs: Repairs, new: Ints) -> Ints:
    """The same with all that repairs leave of them."""
    inside = np.zeros(repairs.after.shape[1], dtype=bool)
    while len(new):
        inside[new] = True
        reached = np.zeros_like(inside)
        reached[repairs.after[:, new]] = reached[repairs.otherwise[:, new]] = True
        new = np.flatnonzero(reached & ~inside)
    return np.flatnonzero(inside)


def _among(problem: Problem, kept: Ints) -> Problem:
    place = np.zeros(len(problem.belief), dtype=np.intp)
    place[kept] = np.arange(len(kept))
    repairs = problem.repairs
    return replace(
        problem,
        belief=np.full(len(kept), 1.0 / len(kept)),  # stands for any, as in the whole problem
        passes=problem.passes[kept],
        ending=problem.ending[kept],
        fixed=problem.fixed[kept],
        tests=replace(problem.tests, likelihood=problem.tests.likelihood[kept]),
        repairs=replace(
            repairs,
            after=place[repairs.after[:, kept]],
            success=repairs.success[:, kept],
            otherwise=place[repairs.otherwise[:, kept]],
        ),
    )
