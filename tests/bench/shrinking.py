"""Problems made smaller for a search that has to prove its optimum: equal hypotheses as one, light ones as one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from advisor.decision.merging import Merged, _over, _refined
from advisor.decision.problem import Bools, Problem
from advisor.network.worlds import Ints


def merged(problem: Problem) -> Merged:
    """The same problem with hypotheses as one that read the same in every test, now and after any repairs.

    No plan can cost one of them more than another: the coarsest lumping of the chain in which outcomes and costs agree
    (J. Kemeny, J. Snell, "Finite Markov chains", 1960, section 6.3; from memory).
    """
    keys = [*problem.tests.likelihood.T, problem.passes, problem.ending, problem.fixed]
    return _over(problem, _refined(problem, keys), problem.tests)


def pruned(problem: Problem, negligible: float = 1e-6) -> Problem:
    """Keep hypotheses that weigh, and what repairs make of them; the rest is one class that only handing over ends.

    The residual keeps its weight and reads as its members do on average, so that it costs the hand-over price and
    the way there: no mass is dropped, which would make every step look better than it is.
    """
    keep = _closed(problem, problem.belief > negligible * problem.belief.max())
    if keep.all():
        return problem
    rest = np.where(keep, 0.0, problem.belief)
    mass, kept = float(rest.sum()), np.flatnonzero(keep)
    share = rest / mass if mass > 0.0 else (~keep) / (~keep).sum()
    new = np.cumsum(keep) - 1
    residual = len(kept)

    def rows(table: Ints) -> Ints:
        """Number the kept hypotheses anew, the residual last."""
        return np.column_stack([new[table[:, kept]], np.full(len(table), residual)])

    tests, repairs = problem.tests, problem.repairs
    return replace(
        problem,
        belief=np.append(problem.belief[kept], mass),
        passes=np.append(problem.passes[kept], 0.0),
        ending=np.append(problem.ending[kept], problem.hand_over),
        fixed=np.append(problem.fixed[kept], False),
        tests=replace(tests, likelihood=np.vstack([tests.likelihood[kept], share @ tests.likelihood])),
        repairs=replace(
            repairs,
            after=rows(repairs.after),
            success=np.column_stack([repairs.success[:, kept], np.ones(len(repairs.price))]),
            otherwise=rows(repairs.otherwise),
        ),
    )


def _closed(problem: Problem, keep: Bools) -> Bools:
    """Add what repairs make of hypotheses that are kept."""
    while True:
        more = keep.copy()
        for target in (*problem.repairs.after, *problem.repairs.otherwise):
            more[target[keep]] = True
        if (more == keep).all():
            return keep
        keep = more
