"""In which order variables are eliminated: greedy scores with seeded ties, the cheapest of several tries.

References:
    U. Kjaerulff, "Triangulation of graphs: algorithms giving small total state space", 1990 (from memory).
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping, Sequence
from itertools import combinations

TRIES = 4
Graph = dict[str, set[str]]
Score = Callable[[str, Graph, Mapping[str, float]], float]


def moral(scopes: Sequence[Sequence[str]]) -> Graph:
    """The graph in which all variables of a scope are neighbours."""
    graph: Graph = {}
    for scope in scopes:
        for name in scope:
            graph.setdefault(name, set()).update(scope)
    for name, around in graph.items():
        around.discard(name)
    return graph


def best_order(scopes: Sequence[Sequence[str]], cards: Mapping[str, int], tries: int = TRIES) -> tuple[str, ...]:
    """An elimination order of small total size, the sum over eliminations of the table that each makes.

    Args:
        scopes: Variables of each table.
        cards: Number of states of each variable.
        tries: How often each greedy rule is tried; the first try of a rule has no luck in it but that of its seed.
    """
    size = {name: math.log(card) for name, card in cards.items()}
    best: tuple[str, ...] = ()
    least = math.inf
    for seed in range(tries):
        for score in (_fill, _weighted_fill, _size):
            order, total = _greedy(moral(scopes), size, score, random.Random(seed), least)
            if total < least:
                best, least = order, total
    return best


def _greedy(
    graph: Graph, size: Mapping[str, float], score: Score, luck: random.Random, least: float
) -> tuple[tuple[str, ...], float]:
    """Eliminate the variable of least score, ties by luck; given up once it costs more than `least`."""
    scores = {name: score(name, graph, size) for name in sorted(graph)}
    order: list[str] = []
    total = 0.0
    while scores:
        low = min(scores.values())
        name = luck.choice([each for each, value in scores.items() if value <= low + 1e-12])
        around = graph.pop(name)
        total += math.exp(size[name] + sum(size[each] for each in around))
        if total > least:
            return (), math.inf
        touched = set(around)
        for one, other in combinations(around, 2):
            if other not in graph[one]:
                graph[one].add(other)
                graph[other].add(one)
                touched |= graph[one] & graph[other]
        for each in around:
            graph[each].discard(name)
        touched.discard(name)
        order.append(name)
        del scores[name]
        scores.update((each, score(each, graph, size)) for each in touched)
    return tuple(order), total


def _missing(name: str, graph: Graph) -> list[tuple[str, str]]:
    return [(one, other) for one, other in combinations(graph[name], 2) if other not in graph[one]]


def _fill(name: str, graph: Graph, size: Mapping[str, float]) -> float:
    """Edges that an elimination adds; of equals the smaller table."""
    return len(_missing(name, graph)) + 1e-3 * _size(name, graph, size)


def _weighted_fill(name: str, graph: Graph, size: Mapping[str, float]) -> float:
    """The same, each edge by the states of its two ends."""
    return sum(math.exp(size[one] + size[other]) for one, other in _missing(name, graph))


def _size(name: str, graph: Graph, size: Mapping[str, float]) -> float:
    """Logarithm of the table that an elimination makes."""
    return size[name] + sum(size[each] for each in graph[name])
