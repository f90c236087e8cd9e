"""What each next step is worth: one step ahead, or two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.decision.advice import Stopping, TestWorth
from advisor.decision.bench import Bench, lightest
from advisor.decision.case import Case, case_of
from advisor.decision.choosing import LIKELY, Choosing, best_step, sound
from advisor.decision.deeper import deepened
from advisor.decision.guard import Guard, guard_of
from advisor.decision.lookahead import Ahead, Choice, look_ahead
from advisor.decision.orders import Orders
from advisor.decision.outlook import Step
from advisor.decision.stopping import no_more_tests, same_decision, together, worth_of_knowing
from advisor.network.worlds import NONE, Floats

LEFT_ASIDE = 1e-5
"""Share of all weight that the lightest hypotheses may have which are left out where outcomes are predicted."""
BEHIND = {"tests": 4, "repairs": 2}
"""How many tests and repairs are looked behind where first steps are followed: a third of the time of the usual twelve
and four, and the same costs within one percent (measured on three complaints)."""


@dataclass(frozen=True)
class Valued:
    """The next steps of a case by their worth.

    Attributes:
        now: Expected cost of repairing without tests [money].
        worths: Of every test that is left, highest first, then by id.
        order: Repairs from first to last, explaining among them as the last index.
        best: The cheapest next step.
        after: Expected cost with it [money].
        lower: What no plan can cost less than, None where that has not been asked [money].
        stopping: Whether testing further can pay, None where that has not been asked.
        waits: The repair of a unit that would come next, but for what `best` has to prove first; None where none does.
    """

    now: float
    worths: tuple[TestWorth, ...]
    order: tuple[int, ...]
    best: Step
    after: float
    lower: float | None
    stopping: Stopping | None
    waits: int | None = None


@dataclass(frozen=True, eq=False)
class Reported:
    """What is complained of.

    Attributes:
        passes: Probability that the complaint's own test passes, none or one, shape (H,).
        looks: Tests that look at it.
        looked: Whether one of them has been answered.
    """

    passes: Floats
    looks: frozenset[int]
    looked: bool


def one_step(bench: Bench, weights: Floats, left: Sequence[int], reported: Reported) -> Valued:
    """Value every test that is left, each followed by repairs without tests.

    worth = ECR(e) - cost - sum over outcomes of P(o|e) ECR(e, o), where the repairs after the test find
    open what the test opened.  A fault that does not show the complaint ends the case as well as none.

    Args:
        bench: Model, open places, costs.
        weights: Posterior of each hypothesis, shape (H,).
        left: Indices of the tests that may be proposed.
        reported: What is complained of.
    """
    passes = reported.passes
    now = bench.expected_of(_masses(bench, np.ones((len(weights), 1)), weights, passes), bench.prices(bench.opened))
    cost_now, compiled = float(now.cost[0]), bench.model.compiled.tests
    tests = [compiled[i] for i in left]
    rows = []
    if tests:
        columns = np.concatenate([np.arange(bench.worlds.columns[i].start, bench.worlds.columns[i].stop) for i in left])
        heavy = np.where(lightest(weights, LEFT_ASIDE), 0.0, weights)
        masses = np.take(_masses(bench, bench.worlds.likelihood, heavy / heavy.sum(), passes), columns, axis=1)
        after, probability, start = bench.expected_of(masses, bench.prices_after(tests)).cost, masses.sum(axis=0), 0
        for test in tests:
            stop, minutes = start + len(test.outcomes), bench.test_minutes(test)
            cost = bench.costs.labour(minutes)
            worth = cost_now - cost - float(after[start:stop].sum())
            rows.append(TestWorth(test.id, minutes, cost, worth, tuple(probability[start:stop].tolist())))
            start = stop
    worths = _sorted(rows)
    best, saved = _first(bench, weights, worths, now.order[0, : now.stop[0]].tolist(), reported)
    return _guarded(
        Valued(cost_now, worths, tuple(now.order[0].tolist()), best, cost_now - saved, None, None), bench, weights, left
    )


def _first(
    bench: Bench, weights: Floats, worths: Sequence[TestWorth], order: Sequence[int], reported: Reported
) -> tuple[Step, float]:
    """The first step and what it saves: nobody is told that nothing is wrong before somebody looks for himself."""
    number = bench.model.positions
    if worths and worths[0].worth > 0.0:
        return Step("test", number[worths[0].test]), worths[0].worth
    early = sound(reported.passes, weights, looked=reported.looked) < LIKELY
    tried = [repair for repair in order if not early or repair < len(bench.ground.plans)]
    looks = [row for row in worths if number[row.test] in reported.looks]
    if early and not reported.looked and looks and order and order[0] not in tried:
        return Step("test", number[looks[0].test]), looks[0].worth
    return (Step("repair", tried[0]) if tried else Step("hand_over", 0)), 0.0


def _masses(bench: Bench, table: Floats, weights: Floats, passes: Floats) -> Floats:
    """Weight of each class with each column of a table (H, O), what passes counted as no fault, shape (G, O)."""
    hidden = weights * passes
    hidden[NONE] = 0.0
    masses = bench.ground.groups.sums(table, weights - hidden)
    masses[NONE] += hidden @ table
    return masses


def two_steps(  # noqa: PLR0913  what one step ahead is valued by, and how far to look
    bench: Bench,
    weights: Floats,
    left: Sequence[int],
    reported: Sequence[str],
    *,
    answered: frozenset[int],
    beliefs: int = 0,
) -> Valued:
    """Value the likeliest next steps two steps ahead, the other tests one step ahead.

    Args:
        bench: Model, open places, costs.
        weights: Posterior of each hypothesis, shape (H,).
        left: Indices of the tests that may be proposed.
        reported: Symptoms that the customer reports.
        answered: Tests that have been answered.
        beliefs: How many later beliefs are looked at to follow the best steps to the end, none for two steps only.
    """
    case = case_of(bench, tuple(reported), tuple(left))
    ahead, closer = look_ahead(case.outlook, case.stage, weights), 0.0
    choosing = Choosing(bench, case.outlook, BEHIND)
    if beliefs:
        found = deepened(choosing, case.stage, weights, ahead, beliefs)
        ahead, closer = found.ahead, found.lower
    repairing = case.outlook.repairing(case.stage, weights)
    done = repairing.of(0)
    rest = [r for r in bench.expected(weights, bench.opened).order[0].tolist() if r not in done]
    problem = case.outlook.problem
    looked = bool(answered & problem.looks)
    sure = sound(problem.passes, weights, looked=looked)
    best = best_step(ahead, len(bench.ground.plans), sure, frozenset[int]() if looked else problem.looks)
    worths = _worths(bench, weights, left, ahead, best)
    best = choosing.untied(ahead, best, case.stage, weights)
    stopping = _stopping(bench, case, weights, repairing, worths)
    lower = max(ahead.now - stopping.perfect_information, closer)
    valued = Valued(ahead.now, worths, (*done, *rest), best.step, best.cost, lower, stopping)
    return _guarded(valued, bench, weights, left)


def _guarded(valued: Valued, bench: Bench, weights: Floats, left: Sequence[int]) -> Valued:
    """The same with no unit condemned, as the next step or first in the order, while a test can prove more of it."""
    guard, worlds = guard_of(bench.model), bench.worlds
    valued = replace(valued, order=_waiting_later(valued.order, guard, bench, weights, left))
    if valued.best.kind != "repair":
        return valued
    proving = {worlds.tests[test] for test in guard.proving(worlds, weights, valued.best.index, left)}
    row = next((row for row in valued.worths if row.test in proving), None)
    if row is None:
        return valued
    test = Step("test", bench.model.positions[row.test])
    return replace(valued, best=test, after=valued.now - row.worth, waits=valued.best.index)


def _waiting_later(
    order: Sequence[int], guard: Guard, bench: Bench, weights: Floats, left: Sequence[int]
) -> tuple[int, ...]:
    """The order with what has to wait behind the first repair that need not."""
    early: list[int] = []
    for place, repair in enumerate(order):
        if repair == len(bench.ground.plans):
            continue
        if not guard.proving(bench.worlds, weights, repair, left):
            before = [r for r in order[:place] if r not in early]
            return (*before, repair, *early, *order[place + 1 :])
        early.append(repair)
    return tuple(order)


def _stopping(bench: Bench, case: Case, weights: Floats, repairing: Orders, worths: Sequence[TestWorth]) -> Stopping:
    outlook, stage = case.outlook, case.stage
    tests = together(outlook, [bench.model.positions[row.test] for row in worths])
    knowing = worth_of_knowing(outlook, stage, weights, repairing)
    return Stopping(
        same_decision(outlook, stage, weights, tests, repairing),
        tuple(bench.worlds.tests[test] for test in tests),
        knowing,
        no_more_tests(outlook, stage, knowing),
    )


def _worths(bench: Bench, weights: Floats, left: Sequence[int], ahead: Ahead, best: Choice) -> tuple[TestWorth, ...]:
    """Two steps ahead where that was looked at; only the best was valued in full, so no other may beat it."""
    costs = {choice.step: max(choice.cost, best.cost) for choice in (*ahead.one, *ahead.two)}
    costs[best.step] = best.cost
    probability, rows = weights @ bench.worlds.likelihood, []
    for i in left:
        test = bench.model.compiled.tests[i]
        minutes, worth = bench.test_minutes(test), ahead.now - costs[Step("test", i)]
        outcomes = tuple(probability[bench.worlds.columns[i]].tolist())
        rows.append(TestWorth(test.id, minutes, bench.costs.labour(minutes), worth, outcomes))
    return _sorted(rows)


def _sorted(worths: Sequence[TestWorth]) -> tuple[TestWorth, ...]:
    return tuple(sorted(worths, key=lambda w: (-w.worth, w.test)))
