"""Solve one resistive network for many sets of conductances: independent nodes are eliminated at once, in all rows.

Eliminating a node replaces its star by a mesh (A. Rosen, "A new network theorem", J. IEE 62, 1924).  Conductances
are only added, multiplied and divided, never subtracted, so an open contact that isolates half the circuit costs no
digits (the argument of W. Grassmann, M. Taksar, D. Heyman, "Regenerative analysis and steady state distributions
for Markov chains", Operations Research 33, 1985).  Vehicle circuits are nearly trees: with the nodes of least degree
first there is little fill, and a solve costs a few operations a node.

Nodes and edges are numbered in order of elimination, so that what a level of nodes needs lies together.  The
reference counts as the last node; every node has an edge to it.

A unit current between two nodes moves only along their way to the last node eliminated.  What lamps and probes see of
each other is a sum over the nodes that their ways share, so it needs no solution of the whole network.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Ends = tuple[tuple[int, int], ...]
Sums = tuple[tuple[Ints | slice, Ints], ...]
"""Additions (from, onto) in turn, such that within a turn no two go onto the same."""
_Star = tuple[int, list[int]]
"""A node and its neighbours."""


@dataclass(frozen=True, eq=False)
class Level:
    """Elimination of some nodes of one degree, none a neighbour of another.

    Attributes:
        nodes: Places of the nodes, n of them.
        edges: Their edges, n x d.
        neighbours: Places of their neighbours, the reference the last of each, shape (n, d).
        meshes: How the edges that join their neighbours in pairs add up, pair (k, j < k) after pair.
        onward: How what they pass on to all neighbours but the reference adds up.
    """

    nodes: slice
    edges: slice
    neighbours: Ints
    meshes: Sums
    onward: Sums


@dataclass(frozen=True, eq=False)
class Plan:
    """Order of elimination of a topology.

    Attributes:
        places: Place of each node in the order of elimination, shape (N,).
        edges: Number of edges M, those to the reference and those that fill in included.
        elements: How the elements' conductances add up to edges.
        leaks: The edges to the reference, shape (N,).
        levels: What to do, in order.
    """

    places: Ints
    edges: int
    elements: Sums
    leaks: Ints
    levels: tuple[Level, ...]


def _sums(onto: Sequence[int], chosen: Sequence[int] | None = None) -> Sums:
    """Additions onto some targets, from the chosen positions or all; equal targets take turns."""
    turns: list[tuple[list[int], list[int]]] = []
    seen: dict[int, int] = {}
    for source, target in zip(range(len(onto)) if chosen is None else chosen, onto, strict=True):
        turn = seen[target] = seen.get(target, -1) + 1
        if turn == len(turns):
            turns.append(([], []))
        turns[turn][0].append(source)
        turns[turn][1].append(target)
    whole = [] if chosen is not None else [*range(len(onto))]
    return tuple(
        (slice(None) if sources == whole else np.array(sources, dtype=np.intp), np.array(targets, dtype=np.intp))
        for sources, targets in turns
    )


def _ordered(nodes: int, ends: Ends) -> list[list[_Star]]:
    """Levels of nodes, each with its neighbours when its turn comes: least degree first, all that are independent."""
    around: list[set[int]] = [set() for _ in range(nodes)]
    for a, b in ends:
        if min(a, b) >= 0:
            around[a].add(b)
            around[b].add(a)
    levels: list[list[_Star]] = []
    left = set(range(nodes))
    while left:
        ranked = sorted((len(around[n]), n) for n in left)
        most, beside, level = max(ranked[0][0], 2), set[int](), dict[int, list[_Star]]()
        for degree, node in ranked:
            if degree <= most and node not in beside:
                beside |= around[node]
                level.setdefault(degree, []).append((node, sorted(around[node])))
        for node, neighbours in (pair for group in level.values() for pair in group):
            left.remove(node)
            for n in neighbours:
                around[n] |= around[node] - {n}
                around[n].discard(node)
        levels += level.values()
    return levels


@lru_cache(maxsize=256)
def plan(nodes: int, ends: Ends) -> Plan:
    """Order the nodes by least degree; `ends` are the nodes of each element, -1 for the reference."""
    ordered = _ordered(nodes, ends)
    place = {node: i for i, node in enumerate([node for level in ordered for node, _ in level] + [-1])}
    number: dict[tuple[int, int], int] = {}
    for node, neighbours in (pair for level in ordered for pair in level):
        for other in (*neighbours, -1):
            number[place[node], place[other]] = len(number)

    def edge(a: int, b: int) -> int:
        """The edge between two nodes belongs to the one that is eliminated first."""
        return number[min(place[a], place[b]), max(place[a], place[b])]

    levels, first_node, first_edge = [], 0, 0
    for level in ordered:
        stars = [(*neighbours, -1) for _, neighbours in level]
        count, degree = len(stars), len(stars[0])
        places = np.array([[place[n] for n in star] for star in stars], dtype=np.intp)
        meshes = [edge(star[k], star[j]) for k in range(degree) for star in stars for j in range(k)]
        onward = [i for i in range(count * degree) if i % degree < degree - 1]
        levels.append(
            Level(
                slice(first_node, first_node + count),
                slice(first_edge, first_edge + count * degree),
                places,
                _sums(meshes),
                _sums(places[:, :-1].ravel().tolist(), onward),
            )
        )
        first_node, first_edge = first_node + count, first_edge + count * degree
    order = np.array([place[node] for node in range(nodes)], dtype=np.intp)
    leaks = np.array([edge(node, -1) for node in range(nodes)], dtype=np.intp)
    return Plan(order, len(number), _sums([edge(a, b) for a, b in ends]), leaks, tuple(levels))


@dataclass(frozen=True, eq=False)
class _Ways:
    """How a unit current through each port gets to the reference: which nodes it comes by.

    Attributes:
        nodes: Place of the node of each passage, all passages of one level after those of the level before.
        ports: Port of each passage.
        columns: Number of the node of each passage among those that any port comes by.
        starts: How the ports' ends, +1 for the first and -1 for the second, add up to passages.
        moves: Per level, passages that take a share of earlier ones: (from, share, onto) in turn.
    """

    nodes: Ints
    ports: Ints
    columns: Ints
    starts: tuple[tuple[int, float], ...]
    moves: tuple[tuple[Ints, Ints, Ints], ...]


@lru_cache(maxsize=512)
def _ways(plan: Plan, ports: Ends) -> _Ways:
    sets: list[set[int]] = [set() for _ in range(len(plan.places) + 1)]
    for port, ends in enumerate(ports):
        for node in ends:
            sets[plan.places[node] if node >= 0 else -1].add(port)
    for level in plan.levels:
        for node, star in enumerate(level.neighbours, level.nodes.start):
            for neighbour in star[:-1]:
                sets[neighbour] |= sets[node]
    passages = [(node, port) for node, passing in enumerate(sets[:-1]) for port in sorted(passing)]
    index = {passage: i for i, passage in enumerate(passages)}
    starts = tuple(
        (index[int(plan.places[node]), port], sign)
        for port, ends in enumerate(ports)
        for node, sign in zip(ends, (1.0, -1.0), strict=True)
        if node >= 0
    )
    moves = []
    for level in plan.levels:
        degree = level.neighbours.shape[1]
        triples = [
            (index[node, port], level.edges.start + i * degree + k, index[int(neighbour), port])
            for i, (node, star) in enumerate(enumerate(level.neighbours, level.nodes.start))
            for k, neighbour in enumerate(star[:-1])
            for port in sorted(sets[node])
        ]
        origins, shares = (np.array([triple[i] for triple in triples], dtype=np.intp) for i in (0, 1))
        moves += [(origins[c], shares[c], onto) for c, onto in _sums([target for _, _, target in triples])]
    nodes, column = (np.array([p[i] for p in passages], dtype=np.intp) for i in (0, 1))
    return _Ways(nodes, column, np.unique(nodes, return_inverse=True)[1], starts, tuple(moves))


@dataclass(frozen=True, eq=False)
class Reduced:
    """A network whose nodes are all eliminated, for B sets of conductances.

    Attributes:
        plan: Of N nodes and M edges.
        shares: The share of a node's current that each edge takes over, shape (M, B).
        totals: Conductance of each node to all others when its turn came [S], shape (N, B).
    """

    plan: Plan
    shares: Floats
    totals: Floats

    def volts(self, injected: Floats) -> Floats:
        """Node voltages [V], shape (N, B), for the current into every node [A], shape (N + 1, B), reference last."""
        flow = np.zeros_like(injected)
        flow[self.plan.places] = injected[:-1]
        for level in self.plan.levels:
            passed = self._shares(level) * flow[level.nodes, None]
            _add(flow, passed.reshape(-1, flow.shape[1]), level.onward)
        flow[:-1] /= self.totals
        flow[-1] = 0.0
        for level in reversed(self.plan.levels):
            if level.onward:
                others = flow[level.neighbours[:, :-1]]
                flow[level.nodes] += np.einsum("ndb,ndb->nb", self._shares(level)[:, :-1], others)
        return flow[self.plan.places]

    def _shares(self, level: Level) -> Floats:
        return self.shares[level.edges].reshape(*level.neighbours.shape, -1)

    def transfer(self, ports: Sequence[tuple[int, int]]) -> Floats:
        """Voltage across each port per ampere through each port [ohm], shape (B, C, C).

        Args:
            ports: Pairs of nodes (a, b), -1 for the reference; an ampere enters at a and leaves at b.
        """
        rows, ways = self.totals.shape[1], _ways(self.plan, tuple(ports))
        carried = np.zeros((len(ways.nodes), rows))
        for passage, sign in ways.starts:
            carried[passage] += sign
        for origin, share, onto in ways.moves:
            carried[onto] += self.shares[share] * carried[origin]
        carried /= np.sqrt(self.totals)[ways.nodes]
        stacked = np.zeros((rows, len(ports), ways.columns[-1] + 1 if len(ways.columns) else 0))
        stacked[:, ways.ports, ways.columns] = carried.T
        return stacked @ stacked.transpose(0, 2, 1)


def _add(target: Floats, values: Floats, sums: Sums) -> None:
    for chosen, onto in sums:
        target[onto] += values[chosen]


def reduce_network(plan: Plan, siemens: Floats, leak: float) -> Reduced:
    """Eliminate all nodes.

    Args:
        plan: Of N nodes and E elements.
        siemens: Conductance of every element, not negative, shape (E, B).
        leak: Conductance from every node to the reference, positive.
    """
    rows = siemens.shape[1]
    edges, totals = np.zeros((plan.edges, rows)), np.empty((len(plan.places), rows))
    edges[plan.leaks] = leak
    _add(edges, siemens, plan.elements)
    for level in plan.levels:
        count, degree = level.neighbours.shape
        own = edges[level.edges].reshape(count, degree, rows)
        total = own.sum(axis=1, out=totals[level.nodes])
        share = own / total[:, None]
        mesh = [(share[:, k, None] * own[:, :k]).reshape(-1, rows) for k in range(1, degree)]
        if mesh:
            _add(edges, np.concatenate(mesh) if len(mesh) > 1 else mesh[0], level.meshes)
        own[:] = share
    return Reduced(plan, edges, totals)
