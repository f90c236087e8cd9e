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
    tests, repairs = problem.tests, problem.repairs

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
            np.add.at(left, repairs.after[repair], weights * repairs.success[repair])
            np.add.at(left, repairs.otherwise[repair], weights * (1.0 - repairs.success[repair]))
            cost += (left * problem.passes * problem.ending).sum()
            costs.append(cost + best(left * (1.0 - problem.passes), opened | way, asked, done | {repair}))
        return min(costs)

    stage = problem.stage
    return best(problem.belief, stage.opened, stage.tests, stage.repairs)


def drive(problem: Problem, plan: Plan, rng: np.random.Generator, vehicles: int) -> np.ndarray:
    """What a plan comes to for some vehicles that are drawn, each led through it; shape (vehicles, 6)."""
    keys = ["cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over"]
    result = np.zeros((vehicles, len(keys)))
    for row, start in enumerate(rng.choice(len(problem.belief), size=vehicles, p=problem.belief)):
        nodes: list = [(plan, int(start), problem.stage.opened, dict.fromkeys(keys, 0.0))]
        while nodes:
            at, h, opened, came_to = nodes.pop()
            steps = list(_step(problem, at, h, opened, came_to))
            chosen = steps[rng.choice(len(steps), p=[chance for chance, *_ in steps])]
            if len(chosen) == 2:
                result[row] = [chosen[1][key] for key in keys]
            else:
                nodes.append(chosen[1:])
    return result


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
    for start, prior in enumerate(problem.belief):
        came_to = dict.fromkeys(["cost", "minutes", "tests", "wrong_parts", "fixed", "handed_over", "gave_up"], 0.0)
        waiting = [(float(prior), plan, start, problem.stage.opened, came_to)]
        while waiting:
            probability, at, h, opened, came_to = waiting.pop()
            for chance, *onward in _step(problem, at, h, opened, came_to):
                if len(onward) == 1:
                    yield probability * chance, onward[0]
                elif probability * chance > 0.0:
                    waiting.append((probability * chance, *onward))


def _step(problem, plan, h, opened, came_to):
    """What can happen next to one vehicle: chance, then where it ends, or the plan, hypothesis, places and sums."""
    if isinstance(plan, HandOver):
        yield 1.0, {**came_to, "cost": came_to["cost"] + problem.hand_over, "handed_over": 1.0}
    elif isinstance(plan, TestStep):
        paid, opened = _paid(problem, problem.tests, plan.test, opened, came_to)
        paid["tests"] += 1.0
        row = problem.tests.likelihood[h, problem.tests.columns[plan.test]]
        for branch, chance in zip(plan.branches, row, strict=True):
            yield chance, branch, h, opened, paid
    else:
        explains = isinstance(plan, ExplainStep)
        repair, then = (problem.explain, plan.not_accepted) if explains else (plan.repair, plan.not_fixed)
        paid, opened = _paid(problem, problem.repairs, repair, opened, came_to)
        if not explains and problem.repairs.after[repair, h] == h:
            paid["wrong_parts"] += 1.0
        success = problem.repairs.success[repair, h]
        for target, chance in ((problem.repairs.after, success), (problem.repairs.otherwise, 1.0 - success)):
            left = int(target[repair, h])
            over = {**paid, "cost": paid["cost"] + problem.ending[left], "fixed": float(problem.fixed[left])}
            yield chance * problem.passes[left], over
            yield chance * (1.0 - problem.passes[left]), then, left, opened, paid


def _paid(problem, work, index, opened, came_to):
    way = places_to(problem, work.place[index])
    price = work.price[index] + sum(problem.access.price[p] for p in way - opened)
    minutes = work.minutes[index] + sum(problem.access.minutes[p] for p in way - opened)
    return {**came_to, "cost": came_to["cost"] + price, "minutes": came_to["minutes"] + minutes}, opened | way
