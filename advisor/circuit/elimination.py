"""Solve one resistive network for many sets of conductances: nodes are eliminated one by one, all rows at once.

Eliminating a node replaces its star by a mesh (A. Rosen, "A new network theorem", J. IEE 62, 1924).  Conductances
are only added, multiplied and divided, never subtracted, so an open contact that isolates half the circuit costs no
digits (the argument of W. Grassmann, M. Taksar, D. Heyman, "Regenerative analysis and steady state distributions
for Markov chains", Operations Research 33, 1985).  Vehicle circuits are nearly trees: with the node of least degree
first there is little fill, and a solve costs a few operations a node.

A unit current between two nodes moves only along their way to the last node eliminated.  What lamps and probes see of
each other is a sum over the nodes that their ways share, so it needs no solution of the whole network.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Step:
    """Elimination of one node: its neighbours, the edges to them, and the edge that joins each pair of neighbours.

    Pair p is of neighbours `first[p]` and `second[p]`, counted among this node's neighbours.
    """

    node: int
    neighbours: Ints
    edges: Ints
    first: Ints
    second: Ints
    meshes: Ints


@dataclass(frozen=True, eq=False)
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


@lru_cache(maxsize=32)  # setups differ in resistances, seldom in topology
def plan(nodes: int, ends: tuple[tuple[int, int], ...]) -> Plan:
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
        neighbours = sorted(around[node])
        for n in neighbours:
            around[n].discard(node)
        own = [index[min(node, n), max(node, n)] for n in neighbours]
        pairs = [(i, k) for i in range(len(neighbours)) for k in range(i)]
        meshes = [edge(neighbours[i], neighbours[k]) for i, k in pairs]
        columns = (neighbours, own, [i for i, _ in pairs], [k for _, k in pairs], meshes)
        steps.append(Step(node, *(np.array(column, dtype=np.intp) for column in columns)))
    return Plan(nodes, len(index), edge_of, tuple(steps))


@dataclass(frozen=True, eq=False)
class Reduced:
    """A network whose nodes are all eliminated, for B sets of conductances.

    Attributes:
        plan: Of N nodes.
        shares: Per step, the share of the node's current that each neighbour takes over, shape (neighbours, B).
        totals: Conductance of each node to all others when its turn came [S], shape (N, B).
    """

    plan: Plan
    shares: tuple[Floats, ...]
    totals: Floats

    def volts(self, injected: Floats) -> Floats:
        """Node voltages [V] for the current into every node [A], shape (N, B) both; the argument is used up."""
        for step, share in zip(self.plan.steps, self.shares, strict=True):
            injected[step.neighbours] += share * injected[step.node]
        injected /= self.totals
        for step, share in zip(reversed(self.plan.steps), reversed(self.shares), strict=True):
            injected[step.node] += np.einsum("nb,nb->b", share, injected[step.neighbours])
        return injected

    def transfer(self, ports: Sequence[tuple[int, int]]) -> Floats:
        """Voltage across each port per ampere through each port [ohm], shape (B, C, C).

        Args:
            ports: Pairs of nodes (a, b), -1 for the reference; an ampere enters at a and leaves at b.
        """
        rows, way = self.totals.shape[1], _ways(self.plan, tuple(ports))
        carried = [np.zeros((len(columns), rows)) for columns in way.columns]
        for column, ends in enumerate(ports):
            for node, sign in zip(ends, (1.0, -1.0), strict=True):
                if node >= 0:
                    carried[node][way.columns[node].searchsorted(column)] += sign
        wide = np.zeros((len(way.wide), len(ports), rows))
        blocks = [np.zeros((len(columns), len(columns), rows)) for columns in way.blocks]
        for step, share, onto, home in zip(self.plan.steps, self.shares, way.onto, way.home, strict=True):
            own = carried[step.node]
            if not len(own):
                continue
            for neighbour, part, places in zip(step.neighbours, share, onto, strict=True):
                if places is None:
                    carried[neighbour] += part * own
                else:
                    carried[neighbour][places] += part * own
            if step.node in way.wide:
                wide[way.wide[step.node]][way.columns[step.node]] = own / np.sqrt(self.totals[step.node])
            else:
                block, i, k = home
                blocks[block][i, k] += own[:, None] * (own / self.totals[step.node])
        stacked = np.ascontiguousarray(wide.transpose(2, 1, 0))
        result: Floats = stacked @ stacked.transpose(0, 2, 1)
        for columns, narrow in zip(way.blocks, blocks, strict=True):
            result[:, columns[:, None], columns] += narrow.transpose(2, 0, 1)
        return result


@dataclass(frozen=True, eq=False)
class _Ways:
    """Which ports' currents come by each node; see `Reduced.transfer`.

    Attributes:
        columns: Per node, its ports in order.
        onto: Per step and neighbour, where the node's ports are among the neighbour's; None where they are the same.
        wide: Nodes that more than half of the ports come by, whose products are taken at once; the number of each.
        blocks: Sets of ports that hold those of all other nodes.
        home: Per step of a node that is not wide, its block and where its ports are in it, as rows and as columns.
    """

    columns: tuple[Ints, ...]
    onto: tuple[tuple[Ints | None, ...], ...]
    wide: Mapping[int, int]
    blocks: tuple[Ints, ...]
    home: tuple[tuple[int, Ints, Ints], ...]


@lru_cache(maxsize=128)
def _ways(plan: Plan, ports: tuple[tuple[int, int], ...]) -> _Ways:
    sets: list[set[int]] = [set() for _ in range(plan.nodes)]
    for column, ends in enumerate(ports):
        for node in ends:
            if node >= 0:
                sets[node].add(column)
    for step in plan.steps:
        for neighbour in step.neighbours:
            sets[neighbour] |= sets[step.node]
    columns = tuple(np.array(sorted(passing), dtype=np.intp) for passing in sets)
    wide = [step.node for step in plan.steps if 2 * len(sets[step.node]) > len(ports)]
    blocks: list[set[int]] = []
    homes: dict[int, int] = {}
    for step in reversed(plan.steps):  # later nodes have the larger sets
        if step.node not in wide:
            found = [i for i, block in enumerate(blocks) if block >= sets[step.node]]
            homes[step.node] = found[0] if found else len(blocks)
            if not found:
                blocks.append(sets[step.node])
    whole = tuple(np.array(sorted(block), dtype=np.intp) for block in blocks)

    def places(inside: Ints, among: Ints) -> Ints | None:
        """Where some ports are among others; None where both are the same."""
        return None if len(inside) == len(among) else among.searchsorted(inside)

    def home(node: int) -> tuple[int, Ints, Ints]:
        """A node's block, and where its ports are in it, as rows and as columns."""
        block = homes.get(node, 0)
        at = whole[block].searchsorted(columns[node]) if node in homes else columns[node]
        return block, at[:, None], at

    onto = tuple(tuple(places(columns[s.node], columns[n]) for n in s.neighbours) for s in plan.steps)
    numbers = {node: number for number, node in enumerate(wide)}
    return _Ways(columns, onto, numbers, whole, tuple(home(step.node) for step in plan.steps))


def reduce_network(plan: Plan, siemens: Floats, leak: float) -> Reduced:
    """Eliminate all nodes.

    Args:
        plan: Of N nodes and E elements.
        siemens: Conductance of every element, not negative, shape (E, B).
        leak: Conductance from every node to the reference, positive.
    """
    rows = siemens.shape[1]
    edges, ground = np.zeros((plan.edges, rows)), np.full((plan.nodes, rows), leak)
    for element, edge in enumerate(plan.edge_of):
        if edge >= 0:
            edges[edge] += siemens[element]
        else:
            ground[-1 - edge] += siemens[element]
    shares = []
    for step in plan.steps:
        own, node = edges[step.edges], ground[step.node]
        total = node + own.sum(axis=0)
        share = own / total
        ground[step.neighbours] += share * node
        edges[step.meshes] += share[step.first] * own[step.second]
        ground[step.node] = total  # its own conductance to the reference is needed no more
        shares.append(share)
    return Reduced(plan, tuple(shares), ground)
