"""From a graph to layers: the feed at the top, grounds at the bottom, every joint going down."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from advisor.drawing.graph import Graph, Pin

_LEAK, _UNEQUAL = 1e-6, 1e-3
"""What ties dead ends to the bottom, and what gives a balanced bridge a direction, beside the 1 of a wire's joint."""
_LOADS, _LOADED = frozenset({"lamp", "motor", "resistor", "unit", "relay"}), 0.02
"""What takes most of the voltage, and how well it conducts beside a joint of a wire."""
_BOND = 0.01
"""Height of body metal where a strap leaves it for the negative post."""
_SWEEPS = 16


@dataclass(frozen=True)
class Joint:
    """A joint between neighbouring layers, from the pin above to the pin below."""

    upper: Pin
    lower: Pin


@dataclass(frozen=True)
class Layers:
    """Ids of symbols and of lines that pass between them, by layer from the top and from left to right."""

    rows: tuple[tuple[str, ...], ...]
    joints: tuple[Joint, ...]

    def passing(self, name: str) -> bool:
        """Tell whether an id is only a line on its way past a layer."""
        return name.startswith(PASSING)


PASSING = "|"
"""What the ids of passing lines start with; no id of a file does."""


def layers_of(graph: Graph) -> Layers:
    """Put a graph's symbols into layers and order each, so that few lines cross."""
    directed = _directed(graph)
    layer = _numbered(graph, directed)
    rows, joints = _with_passing(graph, directed, layer)
    return Layers(_ordered(rows, joints), tuple(joints))


def _heights(graph: Graph) -> dict[str, float]:
    """Give each symbol a height between 0 (ground) and 1 (feed): a potential, all wires alike, all loads alike."""
    place = {name: i for i, name in enumerate(graph.symbols)}
    matrix, right = np.eye(len(place)) * _LEAK, np.zeros(len(place))
    for i, (a, b) in enumerate(graph.joints):
        loads = {graph.symbols[pin.symbol].glyph for pin in (a, b)} & _LOADS
        flow = (_LOADED if loads else 1.0) * (1.0 + _UNEQUAL * (i * 37 % 101) / 101)
        for one, other in ((place[a.symbol], place[b.symbol]), (place[b.symbol], place[a.symbol])):
            matrix[one, one] += flow
            matrix[one, other] -= flow
    known = dict.fromkeys(graph.sources, 1.0) | dict.fromkeys(graph.grounds, 0.0)
    known |= {name: _BOND for name, symbol in graph.symbols.items() if symbol.glyph == "bond"}
    for name, height in known.items():
        matrix[place[name]] = 0.0
        matrix[place[name], place[name]] = 1.0
        right[place[name]] = height
    return dict(zip(place, np.linalg.solve(matrix, right).tolist(), strict=True))


def _directed(graph: Graph) -> list[Joint]:
    """Turn each joint so that it goes down; equal heights go by the order of the file."""
    heights, place = _heights(graph), {name: i for i, name in enumerate(graph.symbols)}

    def _key(pin: Pin) -> tuple[float, int]:
        return (-round(heights[pin.symbol], 9), place[pin.symbol])

    return [Joint(a, b) if _key(a) < _key(b) else Joint(b, a) for a, b in graph.joints]


def _numbered(graph: Graph, joints: Sequence[Joint]) -> dict[str, int]:
    """Number the layers: each as high as what is above it allows, grounds last, what has no feed as low as it can."""
    above, below = _neighbours(joints)
    layer: dict[str, int] = {}

    def _depth(name: str) -> int:
        if name not in layer:
            layer[name] = 1 + max((_depth(up) for up in above[name]), default=-1)
        return layer[name]

    last = max((_depth(name) for name in graph.symbols), default=0)
    for name in graph.grounds:
        if not below[name] and not above[name] & graph.sources:
            layer[name] = last
    fed = _below(graph.sources, below)
    for name in sorted(graph.symbols, key=lambda each: -layer[each]):
        late = name not in fed or len(below[name]) > len(above[name])
        if below[name] and late and name not in graph.sources:
            layer[name] = min(layer[other] for other in below[name]) - 1
    return layer


def _below(names: Iterable[str], below: Mapping[str, set[str]]) -> set[str]:
    """Give everything that joints lead down to from some symbols."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        new = below[waiting.pop()] - found
        found |= new
        waiting += new
    return found


def _neighbours(joints: Sequence[Joint]) -> tuple[Mapping[str, set[str]], Mapping[str, set[str]]]:
    above: dict[str, set[str]] = defaultdict(set)
    below: dict[str, set[str]] = defaultdict(set)
    for joint in joints:
        above[joint.lower.symbol].add(joint.upper.symbol)
        below[joint.upper.symbol].add(joint.lower.symbol)
    return above, below


def _with_passing(
    graph: Graph, joints: Sequence[Joint], layer: Mapping[str, int]
) -> tuple[list[list[str]], list[Joint]]:
    """Break long joints at each layer that they pass; what starts at one pin shares its way."""
    rows: list[list[str]] = [[] for _ in range(max(layer.values(), default=-1) + 1)]
    for name in graph.symbols:
        rows[layer[name]].append(name)
    short: dict[tuple[Pin, Pin], Joint] = {}
    for joint in joints:
        pin = joint.upper
        for at in range(layer[joint.upper.symbol] + 1, layer[joint.lower.symbol]):
            name = f"{PASSING}{joint.upper.symbol}|{joint.upper.name}|{joint.lower.symbol}|{joint.lower.name}|{at}"
            rows[at].append(name)
            short[pin, Pin(name)] = Joint(pin, Pin(name))
            pin = Pin(name)
        short[pin, joint.lower] = Joint(pin, joint.lower)
    return rows, list(short.values())


def _ordered(rows: Sequence[Sequence[str]], joints: Sequence[Joint]) -> tuple[tuple[str, ...], ...]:
    """Order each layer by the middle of its neighbours, down and up, and keep the order with least crossings."""
    above, below = _neighbours(joints)
    current = [list(row) for row in rows]
    best, least = [list(row) for row in current], _all_crossings(current, below)
    for sweep in range(_SWEEPS):
        down = sweep % 2 == 0
        for at in range(1, len(rows)) if down else range(len(rows) - 2, -1, -1):
            fixed = {name: i for i, name in enumerate(current[at - 1 if down else at + 1])}
            current[at] = _by_middle(current[at], above if down else below, fixed)
        crossings = _all_crossings(current, below)
        if crossings < least:
            best, least = [list(row) for row in current], crossings
    return tuple(tuple(row) for row in best)


def _by_middle(row: Sequence[str], near: Mapping[str, set[str]], fixed: Mapping[str, int]) -> list[str]:
    """Sort a row by the mean place of each one's neighbours in the fixed row; those without any stay where they are."""
    middle = {}
    for i, name in enumerate(row):
        places = [fixed[other] for other in near[name] if other in fixed]
        middle[name] = sum(places) / len(places) if places else float(i)
    return sorted(row, key=lambda name: middle[name])


def _all_crossings(rows: Sequence[Sequence[str]], below: Mapping[str, set[str]]) -> int:
    return sum(_crossings(upper, lower, below) for upper, lower in pairwise(rows))


def _crossings(upper: Sequence[str], lower: Sequence[str], below: Mapping[str, set[str]]) -> int:
    """Count the pairs of joints between two rows that cross."""
    place = {name: i for i, name in enumerate(lower)}
    ends = [sorted(place[other] for other in below[name] if other in place) for name in upper]
    flat = [end for group in ends for end in group]
    return sum(one > other for i, one in enumerate(flat) for other in flat[i + 1 :])
