"""Slow, obviously right twins of clever routines."""

from __future__ import annotations

import math
from dataclasses import dataclass

from advisor.circuit.netlist import Netlist

LEAK_SIEMENS = 1e-9


@dataclass(frozen=True)
class Point:
    """One operating point: node voltages [V], drivers that are on, fuses that are open, and whether it settled."""

    volts: dict[str, float]
    on: frozenset[str]
    blown: frozenset[str]
    settled: bool


def solve_linear(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Gaussian elimination with partial pivoting, as in a first course."""
    size = len(right)
    rows = [[*matrix[i], right[i]] for i in range(size)]
    for k in range(size):
        pivot = max(range(k, size), key=lambda i: abs(rows[i][k]))
        rows[k], rows[pivot] = rows[pivot], rows[k]
        for i in range(k + 1, size):
            factor = rows[i][k] / rows[k][k]
            for j in range(k, size + 1):
                rows[i][j] -= factor * rows[k][j]
    answer = [0.0] * size
    for i in reversed(range(size)):
        answer[i] = (rows[i][size] - sum(rows[i][j] * answer[j] for j in range(i + 1, size))) / rows[i][i]
    return answer


def filament_siemens(volts: float, rated_volts: float, hot_ohms: float) -> float:
    """Conductance of a lamp at a voltage: R ~ V^0.45, cold at a twelfth of hot."""
    ratio = abs(volts) / rated_volts
    return min(12.0, ratio**-0.45 if ratio > 0.0 else 12.0) / hot_ohms


def motor_siemens(force: float, rated_force: float, rated_ohms: float) -> float:
    """Conductance of a fan motor's turning part: a tenth of its torque rises with speed, nine with its square."""
    return (0.1 + 0.9 * abs(force) / rated_force) / rated_ohms


BENT = {"lamp": filament_siemens, "motor": motor_siemens}


def node_volts(netlist: Netlist, ohms: dict[str, float]) -> dict[str, float]:
    """Node voltages for fixed switching states; each lamp's or motor's conductance comes from its last voltage."""
    names, index = list(netlist.nodes), dict(netlist.node_index)
    across = {e.id: e.volts for e in netlist.elements if e.kind in BENT}
    for _ in range(200):
        matrix = [[LEAK_SIEMENS if i == j else 0.0 for j in range(len(names))] for i in range(len(names))]
        right = [0.0] * len(names)
        for e in netlist.elements:
            siemens = BENT[e.kind](across[e.id], e.volts, ohms[e.id]) if e.kind in BENT else 1.0 / ohms[e.id]
            force = e.volts if e.kind == "source" else 0.0
            a, b = index[e.a], index[e.b]
            for one, other, sign in ((a, b, 1.0), (b, a, -1.0)):
                if one >= 0:
                    matrix[one][one] += siemens
                    right[one] += sign * force * siemens
                    if other >= 0:
                        matrix[one][other] -= siemens
        volts = dict(zip(names, solve_linear(matrix, right), strict=True)) | {netlist.reference: 0.0}
        before = across
        # Half way: a motor's conductance rises with its voltage, so the whole way would swing to and fro.
        across = {e.id: (volts[e.a] - volts[e.b] + before[e.id]) / 2 for e in netlist.elements if e.kind in BENT}
        if all(math.isclose(across[id], before[id], rel_tol=1e-13, abs_tol=1e-13) for id in across):
            break
    return volts


def wanted(netlist: Netlist, volts: dict[str, float], ohms: dict[str, float]) -> frozenset[str]:
    """Drivers that their units and relays switch on at these voltages."""
    found = set()
    for unit in netlist.units:
        ground = volts[unit.ground]
        levels = {i.name: "low" if volts[i.node] - ground < i.low_below_volts else "high" for i in unit.inputs}
        if volts[unit.supply] - ground >= unit.works_above_volts:
            found |= {o.driver for o in unit.outputs if o.on_when.holds({**netlist.settings, **levels})}
    elements = {e.id: e for e in netlist.elements}
    for relay in netlist.relays:
        coil = elements[relay.coil]
        if abs(volts[coil.a] - volts[coil.b]) / ohms[coil.id] >= relay.operates_above_volts / coil.ohms:
            found.add(relay.driver)
    return frozenset(found)


def worst_fuse(netlist: Netlist, volts: dict[str, float], ohms: dict[str, float]) -> str | None:
    """The fuse that opens next: the most overloaded one above 135 %, the first of those that carry the same."""
    loads = {e.id: abs(volts[e.a] - volts[e.b]) / ohms[e.id] / e.amps for e in netlist.elements if e.kind == "fuse"}
    top = max(loads.values(), default=0.0)
    worst = next((id for id, load in loads.items() if load >= top * (1.0 - 1e-6)), None)
    return worst if worst is not None and loads[worst] > 1.35 else None


def operating_point(netlist: Netlist, ohms: dict[str, float], on: frozenset[str] = frozenset()) -> Point:
    """Let drivers settle from `on`, then open the worst fuse, until nothing changes; drivers turn at most six times."""
    blown: frozenset[str] = frozenset()
    kinds = {e.id: e.kind for e in netlist.elements}
    turns = 0
    while True:
        off = {id for id, kind in kinds.items() if (kind == "driver" and id not in on) or id in blown}
        state = {id: math.inf if id in off else ohms[id] for id in ohms}
        volts = node_volts(netlist, state)
        now = wanted(netlist, volts, state)
        if now != on:
            on, turns = now, turns + 1
            if turns > 6:
                return Point(volts, on, blown, settled=False)
            continue
        worst = worst_fuse(netlist, volts, state)
        if worst is None:
            return Point(volts, on, blown, settled=True)
        blown |= {worst}


def two_ways_by_removal(edges: list[tuple[str, str]], start: tuple[str, str], goal: tuple[str, str]) -> bool:
    """Whether start still reaches goal whichever single node is taken away, its own ends included."""
    nodes = {*start, *goal, *(node for edge in edges for node in edge)}
    for gone in nodes:
        reached = {node for node in start if node != gone}
        for _ in nodes:
            reached |= {b for edge in edges for a, b in (edge, edge[::-1]) if a in reached and b != gone}
        if not reached & {node for node in goal if node != gone}:
            return False
    return True
