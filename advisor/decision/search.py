"""Search for the plan of least expected cost that can stop at any time and says how far off it may be.

Best first over beliefs, each with a lower bound (faults known after one more step) and an upper bound (repairs
without tests); the step of least lower bound is followed, and of its outcomes the one that leaves most in doubt.
A. Martelli, U. Montanari, "Additive AND/OR graphs", IJCAI 1973 (AO*); T. Smith, R. Simmons, "Heuristic search value
iteration for POMDPs", UAI 2004 (choice of outcome); both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from advisor.decision.orders import improved
from advisor.decision.outlook import NextStep, Outlook
from advisor.decision.plan import Plan, TestStep, repair_step, repairs_in_turn, value_of
from advisor.decision.problem import Problem, Stage
from advisor.network.worlds import Floats

_CLOSED = 1e-9
"""Bounds that differ by less than this share of the hand-over price count as one."""
_DIGITS = 10
"""Beliefs that agree to so many decimals are one."""


@dataclass(frozen=True)
class Found:
    """A plan with its expected cost and what no plan can cost less than [money]; how many beliefs were looked at."""

    plan: Plan
    cost: float
    lower: float
    expanded: int

    @property
    def gap(self) -> float:
        """Share of the cost by which the plan may miss the optimum."""
        return (self.cost - self.lower) / self.cost if self.cost > 0.0 else 0.0


def find_plan(problem: Problem, *, nodes: int = 1000, gap: float = 1e-6, outlook: Outlook | None = None) -> Found:
    """Search for a plan until its gap is small enough or enough beliefs have been looked at.

    Args:
        problem: What is to be decided.
        nodes: Largest number of beliefs to look at.
        gap: Share of the cost by which the plan may miss the optimum.
        outlook: Of the problem, where its bounds are sharper than usual.
    """
    search = _Search(outlook or Outlook.of(problem))
    root = search.node(problem.stage, problem.belief)
    expanded = search.run(root, nodes, gap)
    plan = search.plan(root, problem.belief)
    cost = value_of(problem, plan).cost
    return Found(plan, cost, min(root.lower, cost), expanded)


def lower_bound(outlook: Outlook, stage: Stage, belief: Floats, nodes: int) -> float:
    """What no plan can cost less than, once so many beliefs have been looked at [money]; belief as for a node."""
    search = _Search(outlook)
    root = search.node(stage, belief)
    search.run(root, nodes, 0.0)
    return root.lower


@dataclass(slots=True, eq=False)
class _Edge:
    """A step from a node, with the nodes that its outcomes lead to as far as they have been looked at."""

    next: NextStep
    nodes: dict[int, _Node] = field(default_factory=dict)

    def update(self) -> None:
        """Take over what is known of the nodes."""
        for outcome, node in self.nodes.items():
            chance = self.next.chance[outcome]
            self.next.lower[outcome] = max(self.next.lower[outcome], chance * node.lower)
            self.next.upper[outcome] = min(self.next.upper[outcome], chance * node.upper)

    @property
    def lower(self) -> float:
        """What no plan that begins with this step can cost less than."""
        return self.next.price + float(self.next.lower.sum())

    @property
    def upper(self) -> float:
        """What the best plan known that begins with this step costs."""
        return self.next.price + float(self.next.upper.sum())


@dataclass(slots=True, eq=False)
class _Node:
    """A belief, normalised, with its bounds; `best` is the step of the upper bound, None for no more tests."""

    stage: Stage
    belief: Floats
    lower: float
    upper: float
    order: tuple[int, ...]
    edges: list[_Edge] | None = None
    best: _Edge | None = None

    def update(self, hand_over: float) -> None:
        """Back the bounds of all steps up."""
        edges = self.edges or []
        for edge in edges:
            edge.update()
        self.lower = max(self.lower, min([hand_over, *(edge.lower for edge in edges)]))
        cheapest = min(edges, key=lambda edge: edge.upper, default=None)
        if cheapest is not None and cheapest.upper < self.upper:
            self.upper, self.best = cheapest.upper, cheapest
        self.lower = min(self.lower, self.upper)


@dataclass(frozen=True, eq=False)
class _Search:
    outlook: Outlook
    seen: dict[tuple[Stage, bytes], _Node] = field(default_factory=dict)

    def node(self, stage: Stage, belief: Floats) -> _Node:
        """The node of a normalised belief."""
        key = stage, np.round(belief, _DIGITS).tobytes()
        found = self.seen.get(key)
        if found is None:
            orders = self.outlook.repairing(stage, belief)
            cost = float(orders.cost[0])
            lower = min(self.outlook.known.bound(stage, belief), cost)
            found = self.seen[key] = _Node(stage, belief, lower, cost, orders.of(0))
        return found

    def run(self, root: _Node, nodes: int, gap: float) -> int:
        """Look at beliefs until the gap is small enough; gives how many."""
        hand_over, expanded = self.outlook.problem.hand_over, 0
        while expanded < nodes and root.upper - root.lower > max(gap * root.upper, _CLOSED * hand_over):
            self.improve(root)
            expanded += 1
        return expanded

    def improve(self, root: _Node) -> None:
        """Follow what looks best to a node that has not been looked at, look at it, and back up what was learned."""
        way, node = [root], root
        while node.edges is not None:
            step = self._doubtful(node)
            if step is None:
                break
            node = step
            way.append(node)
        if node.edges is None:
            node.edges = [_Edge(step) for step in self.outlook.steps(node.stage, node.belief)]
        for passed in reversed(way):
            passed.update(self.outlook.problem.hand_over)

    def _doubtful(self, node: _Node) -> _Node | None:
        """The node behind the step of least lower bound in which bounds differ most."""
        edges = node.edges or []
        edge = min(edges, key=lambda e: e.lower, default=None)
        if edge is None:
            return None
        edge.update()
        doubt = edge.next.upper - edge.next.lower
        outcome = int(doubt.argmax())
        if doubt[outcome] <= _CLOSED * _CLOSED * self.outlook.problem.hand_over:
            return None
        if outcome not in edge.nodes:
            joint, stage = self.outlook.after(edge.next.step, node.belief, node.stage)
            edge.nodes[outcome] = self.node(stage, joint[:, outcome] / edge.next.chance[outcome])
        return edge.nodes[outcome]

    def plan(self, node: _Node, weights: Floats) -> Plan:
        """The plan of the upper bounds."""
        problem, edge = self.outlook.problem, node.best
        if edge is None:
            return repairs_in_turn(problem, improved(problem, node.stage, weights, node.order))
        joint, stage = self.outlook.after(edge.next.step, node.belief, node.stage)
        branches = []
        for outcome, chance in enumerate(edge.next.chance):
            child = edge.nodes.get(outcome) or self.node(stage, joint[:, outcome] / (chance if chance > 0.0 else 1.0))
            branches.append(self.plan(child, child.belief))
        step = edge.next.step
        return (
            TestStep(step.index, tuple(branches))
            if step.kind == "test"
            else repair_step(problem, step.index, branches[0])
        )
