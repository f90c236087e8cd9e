"""Slow, obvious twins of the decision's sums: repairs done one after the other on one hypothesis at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations

import numpy as np

from advisor.decision.expected import Restores
from advisor.decision.plan import ExplainStep, HandOver, Plan, TestStep
from advisor.decision.problem import Problem
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED


def spent(restores: Restores, hypothesis: int, order: Sequence[int], price: Sequence[float], hand_over: float) -> float:
    """Money spent on one vehicle [money]: repairs in order until it works, else handed over."""
    left = {int(cause) for cause in restores.members[hypothesis] if cause >= 0}
    total = 0.0
    for repair in order:
        total += price[repair]
        if repair < len(restores.cures):
            left -= set(np.flatnonzero(restores.cures[repair]).tolist())
        if hypothesis in (NONE, AS_DESIGNED) or (hypothesis != UNLISTED and not left):
            return total
    return total + hand_over


def order_cost(
    restores: Restores, weights: np.ndarray, order: Sequence[int], price: Sequence[float], hand_over: float
) -> float:
    """Expected cost of an order that is stopped where stopping is cheapest [money]."""
    return min(
        sum(w * spent(restores, h, order[:stop], price, hand_over) for h, w in enumerate(weights))
        for stop in range(len(order) + 1)
    )


def cheapest_cost(restores: Restores, weights: np.ndarray, price: Sequence[float], hand_over: float) -> float:
    """Expected cost of the best of all orders [money]."""
    orders = permutations(range(len(price)))
    return min(order_cost(restores, weights, order, price, hand_over) for order in orders)


def optimum(problem: Problem) -> float:
    """Least expected cost of a case, by trying every step in every state [money]; exponential."""
    seen: dict[tuple, float] = {}
    tests, repairs, hypotheses = problem.tests, problem.repairs, range(len(problem.belief))

    def best(weights: np.ndarray, opened: frozenset, asked: frozenset, done: frozenset) -> float:
        total = weights.sum()
        if total <= 0.0:
            return 0.0
        key = (np.round(weights / total, 9).tobytes(), opened, asked, done)
        if key not in seen:
            seen[key] = tried(weights / total, opened, asked, done)
        return total * seen[key]

    def tried(weights: np.ndarray, opened: frozenset, asked: frozenset, done: frozenset) -> float:
        costs = [problem.hand_over]
        for test in set(range(len(tests.price))) - asked:
            way = places_to(problem, tests.place[test])
            cost = tests.price[test] + sum(problem.access.price[p] for p in way - opened)
            for column in range(tests.columns[test].start, tests.columns[test].stop):
                cost += best(weights * tests.likelihood[:, column], opened | way, asked | {test}, done)
            costs.append(cost)
        for repair in set(range(len(repairs.price))) - done:
            way = places_to(problem, repairs.place[repair])
            cost = repairs.price[repair] + sum(problem.access.price[p] for p in way - opened)
            left = np.zeros(len(weights))
            for h in hypotheses:
                left[repairs.after[repair, h]] += weights[h] * repairs.success[repair, h]
                left[repairs.otherwise[repair, h]] += weights[h] * (1.0 - repairs.success[repair, h])
            cost += sum(left * problem.passes * problem.ending)
            costs.append(cost + best(left * (1.0 - problem.passes), opened | way, asked, done | {repair}))
        return min(costs)

    stage = problem.stage
    return best(problem.belief, stage.opened, stage.tests, stage.repairs)


def places_to(problem: Problem, place: int) -> frozenset[int]:
    """Places that have to be open for one, walking outwards."""
    way = set()
    while place >= 0:
        way.add(int(place))
        place = problem.access.parent[place]
    return frozenset(way)


def ways(problem: Problem, plan: Plan) -> Iterator[tuple[float, dict[str, float]]]:
    """Every way that a case can take through a plan: its probability and what it comes to.

    One vehicle, one outcome of each test and of each proof at a time; a plan that gives up must not be in it.
    """
    for h, probability in enumerate(problem.belief):
        if probability > 0.0:
            came_to = dict.fromkeys(["cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over", "gave_up"], 0.0)
            yield from _onward(problem, plan, h, float(probability), problem.stage.opened, came_to)


def _onward(problem, plan, h, probability, opened, came_to):
    if isinstance(plan, HandOver):
        yield probability, {**came_to, "cost": came_to["cost"] + problem.hand_over, "handed_over": 1.0}
    elif isinstance(plan, TestStep):
        paid, opened = _paid(problem, problem.tests, plan.test, opened, came_to)
        row = problem.tests.likelihood[h, problem.tests.columns[plan.test]]
        for branch, chance in zip(plan.branches, row, strict=True):
            if chance > 0.0:
                now = {**paid, "tests": paid["tests"] + 1.0}
                yield from _onward(problem, branch, h, probability * chance, opened, now)
    else:
        explains = isinstance(plan, ExplainStep)
        repair = problem.explain if explains else plan.repair
        paid, opened = _paid(problem, problem.repairs, repair, opened, came_to)
        if not explains and problem.repairs.after[repair, h] == h:
            paid["wrong_parts"] += 1.0
        success = problem.repairs.success[repair, h]
        for target, chance in ((problem.repairs.after, success), (problem.repairs.otherwise, 1.0 - success)):
            left = target[repair, h]
            over, on = probability * chance * problem.passes[left], probability * chance * (1.0 - problem.passes[left])
            if over > 0.0:
                yield over, {**paid, "cost": paid["cost"] + problem.ending[left], "fixed": float(problem.fixed[left])}
            if on > 0.0:
                then = plan.not_accepted if explains else plan.not_fixed
                yield from _onward(problem, then, left, on, opened, paid)


def _paid(problem, work, index, opened, came_to):
    way = places_to(problem, work.place[index])
    price = work.price[index] + sum(problem.access.price[p] for p in way - opened)
    minutes = work.minutes[index] + sum(problem.access.minutes[p] for p in way - opened)
    return {**came_to, "cost": came_to["cost"] + price, "minutes": came_to["minutes"] + minutes}, opened | way
