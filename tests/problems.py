"""Small problems to decide: drawn at random, or given by faults that stand alone."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from advisor.decision.lookahead import look_ahead
from advisor.decision.outlook import HAND_OVER, Outlook
from advisor.decision.plan import HandOver, TestStep, repair_step
from advisor.decision.problem import Access, Problem, Repairs, Stage, Tests

NO_PLACES = Access(np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0))


def lone_faults(p, price, *, fixes=None, tests=(), hand_over=1e6, ending=None):  # noqa: PLR0913
    """Faults that stand alone, each with probability p; hypothesis 0 is that all is well.

    Args:
        p: Probability of each of F faults.
        price: Of each of R repairs.
        fixes: Probability that each repair fixes each fault, shape (R, F); one repair for each fault if left out.
        tests: Of each test its price and P(outcome | fault), shape (F, outcomes).
        hand_over: Price of handing over.
        ending: What each fault costs on top once it is found, which asks for a state "fixed" of each fault.
    """
    faults, repairs = len(p), len(price)
    fixes = np.eye(faults) if fixes is None else np.asarray(fixes, dtype=float)
    own = 0.0 if ending is None else np.asarray(ending, dtype=float)
    states = 1 + 2 * faults  # all is well, the faults, and each of them fixed
    after = np.tile(np.arange(states), (repairs, 1))
    success = np.ones((repairs, states))
    after[:, 1 : 1 + faults] = np.where(fixes > 0.0, np.arange(faults) + 1 + faults, np.arange(faults) + 1)
    success[:, 1 : 1 + faults] = np.where(fixes > 0.0, fixes, 1.0)
    well = np.array([True] + [False] * faults + [True] * faults)
    blocks = [np.vstack([np.full((1, len(t[1][0])), 1.0 / len(t[1][0])), t[1], t[1]]) for t in tests]
    ended = np.zeros(states)
    ended[1 + faults :] = own
    return Problem(
        belief=np.concatenate([[0.0], p, np.zeros(faults)]),
        passes=well.astype(float),
        ending=ended,
        fixed=well,
        tests=Tests(
            np.hstack(blocks) if blocks else np.zeros((states, 0)),
            tuple(block.shape[1] for block in blocks),
            np.array([t[0] for t in tests], dtype=float),
            np.array([t[0] for t in tests], dtype=float),
            np.full(len(tests), -1),
        ),
        repairs=Repairs(
            after,
            success,
            np.tile(np.arange(states), (repairs, 1)),
            np.asarray(price, dtype=float),
            np.asarray(price, dtype=float),
            np.full(repairs, -1),
        ),
        access=NO_PLACES,
        hand_over=hand_over,
    )


def drawn(seed, *, causes=4, tests=3, repairs=4, hand_over=None):
    """Draw a problem: single faults and pairs, tests that slip, overlapping repairs that may fail, nested places.

    Hypothesis 0 is that all is well, the last is one that nothing but handing over ends; the last repair explains.
    """
    rng = np.random.default_rng(seed)
    sets = [(), *((c,) for c in range(causes))]
    sets += list(combinations(range(causes), 2))
    index, count = {s: i for i, s in enumerate(sets)}, len(sets) + 1
    # What is left of a pair is a single, so that the sets are closed under removal.
    cures = [frozenset(np.flatnonzero(rng.random(causes) < 0.25)) | {r % causes} for r in range(repairs)]
    after = np.tile(np.arange(count), (repairs + 1, 1))
    for r, cured in enumerate(cures):
        after[r, :-1] = [index[tuple(c for c in s if c not in cured)] for s in sets]
    success = np.where(after == np.arange(count), 1.0, rng.choice([1.0, 0.98, 0.9], (repairs + 1, 1)))
    weights = np.array([0.1, *rng.dirichlet(np.ones(causes)), *(0.05 * rng.random(count - causes - 2)), 0.04])
    outcomes = tuple(int(n) for n in rng.integers(2, 4, tests))
    hand_over = float(rng.choice([250.0, 800.0, 2000.0])) if hand_over is None else hand_over
    passes = np.array([1.0, *np.full(count - 1, rng.choice([0.0, 0.03]))])
    blocks = [_block(rng, sets, n) for n in outcomes]
    return Problem(
        belief=weights / weights.sum(),
        passes=passes,
        ending=np.array([0.0, *np.full(count - 1, hand_over + 100.0)]),
        fixed=np.arange(count) == 0,
        tests=Tests(
            np.hstack(blocks),
            outcomes,
            rng.uniform(3.0, 25.0, tests),
            rng.uniform(2.0, 15.0, tests),
            rng.integers(-1, 3, tests),
        ),
        repairs=Repairs(
            after,
            success,
            np.tile(np.arange(count), (repairs + 1, 1)),
            np.append(rng.uniform(15.0, 180.0, repairs), 14.0),
            np.append(rng.uniform(5.0, 60.0, repairs), 10.0),
            np.append(rng.integers(-1, 3, repairs), -1),
        ),
        access=Access(np.array([-1, 0, -1]), rng.uniform(2.0, 30.0, 3), rng.uniform(2.0, 20.0, 3)),
        hand_over=hand_over,
        stage=Stage(opened=frozenset({2} if rng.random() < 0.3 else ())),
        explain=repairs,
    )


def _block(rng, sets, outcomes):
    """P(outcome | hypothesis): every cause shows one outcome, the first cause of a set shows, and looks slip."""
    shown = rng.integers(outcomes, size=1 + len({c for s in sets for c in s}))
    result = np.full((len(sets) + 1, outcomes), 0.02 / (outcomes - 1))
    for i, s in enumerate(sets):
        result[i, shown[1 + s[0]] if s else shown[0]] = 0.98
    result[-1] = 1.0 / outcomes
    return result / result.sum(axis=1, keepdims=True)


def plan_by_steps(problem):
    """The plan that results if every step is chosen two steps ahead; grows with the number of joint outcomes."""
    return _onward(Outlook.of(problem), problem.stage, problem.belief)


def _onward(outlook, stage, weights):
    total = float(weights.sum())
    step = look_ahead(outlook, stage, weights / total).best.step if total > 0.0 else HAND_OVER
    if step == HAND_OVER:
        return HandOver()
    joint, then = outlook.after(step, weights, stage)
    branches = tuple(_onward(outlook, then, outcome) for outcome in joint.T)
    is_test = step.kind == "test"
    return TestStep(step.index, branches) if is_test else repair_step(outlook.problem, step.index, branches[0])
