"""From layers to places [px]: columns as straight as they can be, and lines in channels of their own between layers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.drawing.columns import NEAR, Columns
from advisor.drawing.graph import Graph
from advisor.drawing.layers import Joint, Layers
from advisor.drawing.sizes import Size, size_of

_MARGIN = 10.0
_PASSING = Size(3.0, 3.0, 0.0, {}, {})
_TRACK, _CHANNEL = 8.0, 12.0

Line = tuple[float, float, float, float]


@dataclass(frozen=True)
class Box:
    """Where a symbol stands: the middle of its glyph, and its edges with its label."""

    symbol: str
    x: float
    y: float
    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class Layout:
    """A drawing's boxes by symbol, its lines, the dots where lines meet, and where each pin is (symbol, pin)."""

    graph: Graph
    width: float
    height: float
    boxes: Mapping[str, Box]
    lines: tuple[Line, ...]
    dots: tuple[tuple[float, float], ...]
    sizes: Mapping[str, Size]


def placed(graph: Graph, layers: Layers) -> Layout:
    """Give every symbol and every line of a drawing its place."""
    sizes = _sizes(graph, layers)
    x = _columns(layers, sizes)
    tops, bottoms, lines, dots = [], [], [], []
    y = _MARGIN
    below: dict[str, list[Joint]] = defaultdict(list)
    for joint in layers.joints:
        below[joint.upper.symbol].append(joint)
    for row in layers.rows:
        height = max(sizes[name].height for name in row)
        tops.append(y)
        bottoms.append(y + height)
        joints = [joint for name in row for joint in below[name]]
        found, spots, channel = _channel(joints, x, sizes, y + height)
        lines += found
        dots += spots
        y += height + channel
    boxes = {}
    for row, top, bottom in zip(layers.rows, tops, bottoms, strict=True):
        for name in row:
            size, middle = sizes[name], (top + bottom) / 2
            if layers.passing(name):
                lines.append((x[name], top, x[name], bottom))
                continue
            half = size.height / 2
            boxes[name] = Box(
                name, x[name], middle, x[name] - size.left, middle - half, x[name] + size.right, middle + half
            )
            lines += _leads(name, layers, x, size, (top, middle - half, middle + half, bottom))
    width = max((box.right for box in boxes.values()), default=0.0) + _MARGIN
    return Layout(graph, width, y - _CHANNEL + _MARGIN, boxes, tuple(lines), tuple(dots), sizes)


def _leads(
    name: str, layers: Layers, x: Mapping[str, float], size: Size, edges: tuple[float, float, float, float]
) -> list[Line]:
    """Lead a symbol's pins from its box to the edges of its row."""
    top, box_top, box_bottom, bottom = edges
    up = {j.lower.name for j in layers.joints if j.lower.symbol == name}
    down = {j.upper.name for j in layers.joints if j.upper.symbol == name}
    lines = [(x[name] + size.up.get(p, 0.0), top, x[name] + size.up.get(p, 0.0), box_top) for p in sorted(up)]
    lines += [
        (x[name] + size.down.get(p, 0.0), box_bottom, x[name] + size.down.get(p, 0.0), bottom) for p in sorted(down)
    ]
    return [line for line in lines if line[1] < line[3]]


def _sizes(graph: Graph, layers: Layers) -> dict[str, Size]:
    """Measure each symbol, a boxed one with its pins in the order of what they lead to."""
    order = {name: i for row in layers.rows for i, name in enumerate(row)}
    up: dict[str, dict[str, int]] = defaultdict(dict)
    down: dict[str, dict[str, int]] = defaultdict(dict)
    for joint in layers.joints:
        up[joint.lower.symbol].setdefault(joint.lower.name, order[joint.upper.symbol])
        down[joint.upper.symbol].setdefault(joint.upper.name, order[joint.lower.symbol])

    def _pins(found: Mapping[str, int]) -> list[str]:
        return sorted(found, key=lambda pin: found[pin])

    return {
        name: _PASSING if layers.passing(name) else size_of(graph.symbols[name], _pins(up[name]), _pins(down[name]))
        for row in layers.rows
        for name in row
    }


def _columns(layers: Layers, sizes: Mapping[str, Size]) -> dict[str, float]:
    """Give each symbol the x of its middle [px], the leftmost edge at the margin."""
    x = Columns(layers, sizes).solve()
    least = min((x[name] - sizes[name].left for name in x), default=0.0)
    return {name: value - least + _MARGIN for name, value in x.items()}


def _channel(
    joints: Sequence[Joint], x: Mapping[str, float], sizes: Mapping[str, Size], top: float
) -> tuple[list[Line], list[tuple[float, float]], float]:
    """Route the joints between two layers: lines, dots, and the channel's height [px]; one net takes one track."""
    nets = [_ends(net, x, sizes) for net in _nets(joints)]
    tracks = _tracks([(min(up + down), max(up + down)) for up, down in nets])
    height = _CHANNEL + _TRACK * (max(tracks, default=-1) + 1)
    lines: list[Line] = []
    dots: list[tuple[float, float]] = []
    for (up, down), track in zip(nets, tracks, strict=True):
        if track < 0:
            lines.append((up[0], top, up[0], top + height))
            continue
        y = top + _CHANNEL / 2 + _TRACK * (track + 0.5)
        low, high = min(up + down), max(up + down)
        lines += [(at, top, at, y) for at in up] + [(at, y, at, top + height) for at in down]
        lines.append((low, y, high, y))
        for at in sorted({*up, *down}):
            if (at > low) + (at < high) + (at in up) + (at in down) > 2:
                dots.append((at, y))
    return lines, dots, height


def _nets(joints: Sequence[Joint]) -> list[list[Joint]]:
    """Group joints that share a pin, directly or through others."""
    nets: list[list[Joint]] = []
    for joint in joints:
        near = [net for net in nets if any(other.upper == joint.upper or other.lower == joint.lower for other in net)]
        nets = [net for net in nets if net not in near]
        nets.append([joint, *(other for net in near for other in net)])
    return nets


def _ends(net: Sequence[Joint], x: Mapping[str, float], sizes: Mapping[str, Size]) -> tuple[list[float], list[float]]:
    up = {round(x[j.upper.symbol] + sizes[j.upper.symbol].down.get(j.upper.name, 0.0), 3) for j in net}
    down = {round(x[j.lower.symbol] + sizes[j.lower.symbol].up.get(j.lower.name, 0.0), 3) for j in net}
    return sorted(up), sorted(down)


def _tracks(spans: Sequence[tuple[float, float]]) -> list[int]:
    """Give each span a track that no span near it has, from the left; a span of no width needs none (-1)."""
    tracks, ends = [-1] * len(spans), list[float]()
    for i in sorted((i for i, (low, high) in enumerate(spans) if high > low), key=lambda i: spans[i]):
        low, high = spans[i]
        free = next((t for t, end in enumerate(ends) if end + NEAR < low), len(ends))
        if free == len(ends):
            ends.append(high)
        ends[free] = high
        tracks[i] = free
    return tracks
