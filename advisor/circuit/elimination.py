"""Solve one resistive network for many sets of conductances: nodes are eliminated one by one, all rows at once.

Eliminating a node replaces its star by a mesh (A. Rosen, "A new network theorem", J. IEE 62, 1924).  Conductances
are only added, multiplied and divided, never subtracted, so an open contact that isolates half the circuit costs no
digits (the argument of W. Grassmann, M. Taksar, D. Heyman, "Regenerative analysis and steady state distributions
for Markov chains", Operations Research 33, 1985).  Vehicle circuits are nearly trees: with the node of least degree
first there is little fill, and a solve costs a few operations a node.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Step:
    """Elimination of one node: its neighbours and their edges, and the edge between each pair of neighbours."""

    node: int
    neighbours: tuple[int, ...]
    edges: tuple[int, ...]
    meshes: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True)
class Plan:
    """Order of elimination of a topology.

    Attributes:
        nodes: Number of nodes N, the reference not counted.
        edges: Number of edges M, those that fill in included.
        edge_of: Edge of each element between two nodes, or -1 - node for one to the reference.
        steps: What to do, in order.
    """

    nodes: int
    edges: int
    edge_of: tuple[int, ...]
    steps: tuple[Step, ...]


def plan(nodes: int, ends: Sequence[tuple[int, int]]) -> Plan:
    """Order the nodes by least degree; `ends` are the nodes of each element, -1 for the reference."""
    index: dict[tuple[int, int], int] = {}
    around: list[set[int]] = [set() for _ in range(nodes)]

    def edge(a: int, b: int) -> int:
        """Index of the edge between two nodes, made if new."""
        around[a].add(b)
        around[b].add(a)
        return index.setdefault((min(a, b), max(a, b)), len(index))

    edge_of = tuple(edge(a, b) if min(a, b) >= 0 else -1 - max(a, b) for a, b in ends)
    steps, left = [], set(range(nodes))
    while left:
        node = min(left, key=lambda n: (len(around[n]), n))
        left.remove(node)
        neighbours = tuple(sorted(around[node]))
        for n in neighbours:
            around[n].discard(node)
        own = tuple(index[min(node, n), max(node, n)] for n in neighbours)
        pairs = [(i, k) for i in range(len(neighbours)) for k in range(i)]
        meshes = tuple((i, k, edge(neighbours[i], neighbours[k])) for i, k in pairs)
        steps.append(Step(node, neighbours, own, meshes))
    return Plan(nodes, len(index), edge_of, tuple(steps))


def solve_network(plan: Plan, siemens: Floats, leak: float, injected: Floats) -> Floats:
    """Node voltages [V], shape (N, B, C).

    Args:
        plan: Of N nodes and E elements.
        siemens: Conductance of every element, not negative, shape (E, B).
        leak: Conductance from every node to the reference, positive.
        injected: Current into every node [A], C cases, shape (N, B, C); used up.
    """
    rows = siemens.shape[1]
    edges, ground = np.zeros((plan.edges, rows)), np.full((plan.nodes, rows), leak)
    for element, edge in enumerate(plan.edge_of):
        if edge >= 0:
            edges[edge] += siemens[element]
        else:
            ground[-1 - edge] += siemens[element]
    shares: list[list[Floats]] = []
    for step in plan.steps:
        total = ground[step.node] + sum(edges[e] for e in step.edges)
        share = [edges[e] / total for e in step.edges]
        for neighbour, part in zip(step.neighbours, share, strict=True):
            ground[neighbour] += part * ground[step.node]
            injected[neighbour] += part[:, None] * injected[step.node]
        for i, k, edge in step.meshes:
            edges[edge] += share[i] * edges[step.edges[k]]
        injected[step.node] /= total[:, None]
        shares.append(share)
    for step, share in zip(reversed(plan.steps), reversed(shares), strict=True):
        for neighbour, part in zip(step.neighbours, share, strict=True):
            injected[step.node] += part[:, None] * injected[neighbour]
    return injected
