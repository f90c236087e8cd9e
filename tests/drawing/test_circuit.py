"""Drawings of circuits: nothing overlaps, no line crosses a symbol, and what is drawn is the netlist."""

from __future__ import annotations

import itertools
from collections import Counter
from xml.etree import ElementTree

import pytest
from shipped_models import CIRCUITS, small_model

from advisor.drawing.circuit import circuit_svg, layout
from advisor.drawing.graph import graph_of
from advisor.drawing.layers import layers_of
from advisor.drawing.suspicion import level, odds

EPSILON = 0.01


def overlaps(a, b) -> bool:
    """Tell whether two boxes share area."""
    return (
        min(a.right, b.right) - max(a.left, b.left) > EPSILON and min(a.bottom, b.bottom) - max(a.top, b.top) > EPSILON
    )


def crosses(line, box) -> bool:
    """Tell whether a line, upright or level, enters a box."""
    (x1, y1, x2, y2) = line
    left, right, top, bottom = min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2)
    return (
        min(right, box.right) - max(left, box.left) >= -EPSILON < min(bottom, box.bottom) - max(top, box.top)
        and right > box.left + EPSILON
        and left < box.right - EPSILON
        and bottom > box.top + EPSILON
        and top < box.bottom - EPSILON
    )


@pytest.fixture(params=CIRCUITS)
def schematic(request):
    """Give each shipped circuit."""
    return small_model(request.param).schematic


def test_no_two_boxes_overlap(schematic):
    """The boxes of all symbols, labels included, share no area, and all are inside of the drawing."""
    laid = layout(schematic)
    assert [(a.symbol, b.symbol) for a, b in itertools.combinations(laid.boxes.values(), 2) if overlaps(a, b)] == []
    assert all(box.left >= 0 and box.top >= 0 for box in laid.boxes.values())
    assert all(box.right <= laid.width and box.bottom <= laid.height for box in laid.boxes.values())


def test_no_line_crosses_a_symbol(schematic):
    """Lines go up, down and across, and end at symbols without entering any."""
    laid = layout(schematic)
    assert all(x1 == pytest.approx(x2, abs=1e-3) or y1 == y2 for x1, y1, x2, y2 in laid.lines)
    assert [(line, box.symbol) for line in laid.lines for box in laid.boxes.values() if crosses(line, box)] == []


def touching(lines, dots) -> list[set[int]]:
    """Group lines that meet: end to end, or where one ends on another and a dot says so."""
    groups = [{i} for i in range(len(lines))]
    for i, j in itertools.combinations(range(len(lines)), 2):
        if _meet(lines[i], lines[j], dots):
            one, other = (next(g for g in groups if k in g) for k in (i, j))
            if one is not other:
                groups.remove(other)
                one |= other
    return groups


def _meet(one, other, dots) -> bool:
    ends = [(line[k], line[k + 1]) for line in (one, other) for k in (0, 2)]
    near = [p for p in ends if _on(p, one) and _on(p, other)]
    corner = any(_same(p, q) for p in ends[:2] for q in ends[2:])
    return bool(near) and (corner or any(_same(p, dot) for p in near for dot in dots))


def _same(p, q) -> bool:
    return abs(p[0] - q[0]) < EPSILON and abs(p[1] - q[1]) < EPSILON


def _on(p, line) -> bool:
    x1, y1, x2, y2 = line
    return (
        min(x1, x2) - EPSILON <= p[0] <= max(x1, x2) + EPSILON
        and min(y1, y2) - EPSILON <= p[1] <= max(y1, y2) + EPSILON
    )


def test_the_lines_join_what_the_netlist_joins(schematic):
    """Followed from symbol to symbol, touching lines join exactly the pins that the netlist joins."""
    laid = layout(schematic)
    joined = Counter()
    for group in touching(laid.lines, laid.dots):
        ends = [(laid.lines[i][k], laid.lines[i][k + 1]) for i in group for k in (0, 2)]
        reached = {name for name, box in laid.boxes.items() if any(_at(p, box, laid.sizes[name]) for p in ends)}
        joined[frozenset(reached)] += 1
    nets: list[set] = []
    for a, b in laid.graph.joints:
        near = [net for net in nets if a in net or b in net]
        nets = [net for net in nets if net not in near] + [{a, b}.union(*near)]
    # Of a symbol whose pins are one, lines above and below it are two groups; its joints are taken together here.
    meant = {frozenset(pin.symbol for pin in net) for net in nets}
    for found in joined:
        assert any(found <= net for net in meant), found
    for a, b in laid.graph.joints:
        assert any({a.symbol, b.symbol} <= found for found in joined) or _through(a.symbol, b.symbol, joined), (a, b)


def _at(p, box, size) -> bool:
    """Tell whether a line's end stands at a pin of a box."""
    offsets = [*size.up.values(), *size.down.values()] or [0.0]
    return any(abs(p[0] - box.x - off) < EPSILON for off in offsets) and (
        abs(p[1] - box.top) < EPSILON or abs(p[1] - box.bottom) < EPSILON
    )


def _through(a, b, joined) -> bool:
    """Tell whether two symbols are joined through one between them whose pins are one."""
    return any(a in one and b in other and one & other for one in joined for other in joined)


def test_every_joint_goes_down_and_grounds_are_last(schematic):
    """Sources stand in the first layer, or right below another in series; joints lead one down; grounds are last."""
    graph = graph_of(schematic)
    layers = layers_of(graph)
    level_of = {name: i for i, row in enumerate(layers.rows) for name in row}
    in_series = {
        joint.lower.symbol for joint in layers.joints if {p.symbol for p in (joint.upper, joint.lower)} <= graph.sources
    }
    assert schematic.battery.id in graph.sources - in_series
    assert graph.sources - in_series <= set(layers.rows[0])
    assert {level_of[j.lower.symbol] - level_of[j.upper.symbol] for j in layers.joints} == {1}
    grounds = [
        name for name, s in graph.symbols.items() if s.glyph in {"ground", "body"}
    ]  # not every circuit has a point
    assert {level_of[name] for name in grounds} >= {len(layers.rows) - 1}
    assert {level_of[name] for name in grounds if graph.symbols[name].glyph == "ground"} <= {len(layers.rows) - 1}


def test_all_that_can_fail_is_drawn(schematic):
    """Each part, wire, contact, splice and ground that is a cause somewhere stands in the drawing."""
    drawn = {s.part for s in graph_of(schematic).symbols.values() if s.suspect}
    assert set(small_model(schematic.id).wiring.items) <= drawn


def test_suspicion_is_told_without_colour(schematic):
    """A suspected part has its share in words, a frame whose width grows with it, and a place in the description."""
    parts = sorted(small_model(schematic.id).wiring.items)[:3]
    svg = circuit_svg(schematic, dict(zip(parts, (0.42, 0.13, 0.03), strict=True)))
    root = ElementTree.fromstring(svg)
    widths = []
    for part, said in zip(parts, ("4 in 10", "1 in 10", "3 in 100"), strict=True):
        group = next(e for e in root.iter() if e.get("data-part") == part)
        assert said in [e.text for e in group.iter()]
        widths.append(next(float(e.get("stroke-width")) for e in group.iter() if e.get("class") == "tint"))
    assert widths == sorted(widths, reverse=True)
    assert len(set(widths)) == 3
    assert "4 in 10" in next(e.text for e in root if e.tag.endswith("desc"))
    assert "style=" not in svg


def test_a_probe_is_marked():
    """The cavity that a test probes has a ring of its role and the role in words."""
    schematic = small_model("belt-reminder").schematic
    root = ElementTree.fromstring(circuit_svg(schematic, marks={"C12/7": "red"}))
    group = next(e for e in root.iter() if e.get("data-part") == "C12/7")
    assert [e.get("class") for e in group if "probe" in e.get("class", "")] == ["probe red"]
    assert "red" in [e.text for e in group]


@pytest.mark.parametrize(("share", "step"), [(0.0, 0), (0.019, 0), (0.02, 1), (0.1, 2), (0.3, 3), (1.0, 3)])
def test_levels(share, step):
    """The levels begin where they are said to."""
    assert level(share) == step


@pytest.mark.parametrize(
    ("share", "words"), [(0.43, "4 in 10"), (0.034, "3 in 100"), (0.099, "1 in 10"), (1.0, "over 9 in 10")]
)
def test_odds(share, words):
    """Shares are said in ten, small ones in a hundred."""
    assert odds(share) == words


def test_neighbours_are_not_drawn(schematic):
    """What stands beside a circuit only to be looked at next door is not in its drawing."""
    drawn = set(layout(schematic).boxes)
    assert drawn & set(schematic.parts)
    assert not {name for name in drawn if name.split("/")[0] in schematic.beside}
