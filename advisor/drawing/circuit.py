"""A circuit as a drawing: feed at the top, grounds at the bottom, suspects tinted, probes marked."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.drawing.glyphs import cell, glyph
from advisor.drawing.graph import Symbol, graph_of
from advisor.drawing.layers import layers_of
from advisor.drawing.placing import Box, Layout, placed
from advisor.drawing.sizes import BOLD, GLYPH, SMALL, Size, detailed
from advisor.drawing.suspicion import level, odds
from advisor.drawing.svg import LINE, TEXT, Attributes, element, image, line, text, text_width
from advisor.knowledge.documents import Schematic

_TINT = "#e8a33d"
_FRAMES = (0.0, 1.0, 2.2, 3.6)
_OPACITY = (0.0, 0.25, 0.45, 0.7)
ROLES = {"red": "#c02418", "black": "#111111", "bridge": "#6a3fa0", "probe": "#0b4f7d"}
_FOOT = 22.0
LEGEND = "○ a probe can be put there · hatched and framed: suspected, with its share"


def layout(schematic: Schematic) -> Layout:
    """Lay a circuit out; nothing of it depends on findings, so that it may be kept."""
    graph = graph_of(schematic)
    return placed(graph, layers_of(graph))


def circuit_svg(
    schematic: Schematic,
    shares: Mapping[str, float] | None = None,
    marks: Mapping[str, str] | None = None,
    laid: Layout | None = None,
) -> str:
    """Draw a circuit as SVG text.

    Args:
        schematic: The circuit.
        shares: How likely each part is at fault, as a share of one, by the part's id as causes name it.
        marks: What a probe does where: red, black, bridge or probe, by cavity (`C12/7`), junction, splice or ground.
        laid: The circuit's layout where it is kept.

    """
    laid, shares, marks = laid or layout(schematic), shares or {}, marks or {}
    width = max(laid.width, text_width(LEGEND, SMALL) + 20)
    symbols = [
        _symbol(laid.graph.symbols[name], box, laid.sizes[name], shares, marks)
        for name, box in laid.boxes.items()
        if laid.graph.symbols[name].glyph != "point"
    ]
    lines = [line(*ends, stroke="currentColor", stroke_width=1.5) for ends in laid.lines]
    dots = [element("circle", cx=x, cy=y, r=2.8, fill="currentColor") for x, y in laid.dots]
    return image(
        width,
        laid.height + _FOOT,
        f"Circuit of {schematic.title}",
        words_of(laid, shares, marks),
        element("defs", *(_pattern(step) for step in (1, 2, 3))),
        *lines,
        *dots,
        *symbols,
        text(LEGEND, 10, laid.height + 14, SMALL),
        class_="circuit-drawing",
    )


def words_of(laid: Layout, shares: Mapping[str, float], marks: Mapping[str, str]) -> str:
    """Say what a drawing shows, for whoever does not see it."""
    ranked = sorted(((shares.get(s.part, 0.0), s.label) for s in laid.graph.symbols.values() if s.part), reverse=True)
    suspects = [f"{label} {odds(share)}" for share, label in ranked if level(share)]
    said = ["Feed at the top, grounds at the bottom"]
    said += [f"suspected: {', '.join(suspects[:12])}"] if suspects else []
    said += [f"{role} at {node}" for node, role in marks.items()]
    return "; ".join(said)


def _symbol(symbol: Symbol, box: Box, size: Size, shares: Mapping[str, float], marks: Mapping[str, str]) -> str:
    share = shares.get(symbol.part, 0.0) if symbol.suspect else 0.0
    role = marks.get(symbol.id) or marks.get(symbol.part) or ""
    boxed = bool(size.up or size.down)
    drawn = _boxed(symbol, box, size, share) if boxed else _between(symbol, box, size, share, role)
    return element(
        "g", *drawn, class_=f"symbol {symbol.glyph} suspect-{level(share)}", data_part=symbol.part or symbol.id
    )


def _between(symbol: Symbol, box: Box, size: Size, share: float, role: str) -> list[str]:
    """Draw a symbol that stands between two pins, its label to the right."""
    drawn = []
    if level(share):
        corner = {"x": box.x - GLYPH, "y": box.top, "width": 2 * GLYPH, "height": box.bottom - box.top}
        drawn += [_tint(corner, share), _hatch(corner, share)]
    drawn.append(glyph(symbol.glyph, box.x, box.top, box.bottom, symbol.detail.partition(" ")[0]))
    if symbol.probe:
        drawn.append(_probe(box, role, grounded=symbol.glyph in {"ground", "body"}))
    rows = len(size.lines) + (detailed(symbol) and (bool(level(share)) or _rated(symbol)))
    x, y = box.x + GLYPH + 4.0, box.y - LINE * rows / 2 + TEXT - 1
    for i, words in enumerate(size.lines):
        drawn.append(text(words, x, y + LINE * i, font_weight=600 if level(share) > 1 else 400))
    if role:
        at = x + text_width(size.lines[-1]) * BOLD + 5
        drawn.append(text(role, at, y + LINE * (len(size.lines) - 1), SMALL, font_weight=700, class_=f"mark {role}"))
    return drawn + _details(symbol, share, x, y + LINE * len(size.lines))


def _rated(symbol: Symbol) -> bool:
    return bool(symbol.detail) and symbol.glyph != "wire"


def _details(symbol: Symbol, share: float, x: float, y: float) -> list[str]:
    """Write a rating, and the share in its frame."""
    own = f"{symbol.detail} " if _rated(symbol) else ""
    drawn = [text(own.strip(), x, y - 1, SMALL)] if own else []
    return drawn + ([_badge(share, x + text_width(own, SMALL), y)] if level(share) else [])


def _badge(share: float, x: float, y: float) -> str:
    words = odds(share)
    frame = element(
        "rect",
        class_="badge",
        x=x,
        y=y - 10.5,
        width=text_width(words, SMALL) * BOLD + 6,
        height=13,
        rx=3,
        fill="none",
        stroke="currentColor",
        stroke_width=0.5 + level(share) / 2,
    )
    return frame + text(words, x + 3, y - 0.5, SMALL, font_weight=700)


def _boxed(symbol: Symbol, box: Box, size: Size, share: float) -> list[str]:
    """Draw a box with its label inside and its pins' names at its edges."""
    corner = {"x": box.left, "y": box.top, "width": box.right - box.left, "height": box.bottom - box.top}
    drawn = [element("rect", **corner, rx=3, fill="none", stroke="currentColor", stroke_width=1.5)]
    if level(share):
        drawn.append(_tint(corner, share))
    if symbol.glyph == "source":
        drawn.append(cell(box.left + 12, box.y))
    for pins, y in ((size.up, box.top + 11), (size.down, box.bottom - 4)):
        drawn += [text(pin, box.x + off, y, SMALL, text_anchor="middle", class_="pin") for pin, off in pins.items()]
    y = box.top + 4 + (LINE if size.up else 0) + TEXT
    for i, words in enumerate(size.lines):
        drawn.append(text(words, box.x, y + LINE * i, text_anchor="middle"))
    if level(share):
        drawn.append(_badge(share, box.x - text_width(odds(share), SMALL) * BOLD / 2 - 3, y + LINE * len(size.lines)))
    return drawn


def _tint(corner: Mapping[str, float], share: float) -> str:
    step = level(share)
    return element(
        "rect",
        class_="tint",
        **corner,
        rx=4,
        fill=_TINT,
        fill_opacity=_OPACITY[step],
        stroke="currentColor",
        stroke_width=_FRAMES[step],
    )


def _hatch(corner: Mapping[str, float], share: float) -> str:
    return element("rect", class_="hatch", **corner, rx=4, fill=f"url(#suspect-{level(share)})")


def _pattern(step: int) -> str:
    """Make the hatching of a level: the stronger, the closer its lines, the strongest crossed."""
    size = 12 - 2.5 * step
    strokes = line(0, size, size, 0, stroke="currentColor", stroke_width=0.8, stroke_opacity=0.55)
    if step > 2:
        strokes += line(0, 0, size, size, stroke="currentColor", stroke_width=0.8, stroke_opacity=0.55)
    return element("pattern", strokes, id=f"suspect-{step}", width=size, height=size, patternUnits="userSpaceOnUse")


def _probe(box: Box, role: str, *, grounded: bool) -> str:
    """Ring a place where a probe can be put; where one goes in this test, in its colour and thick."""
    up = 8.0 if grounded else 0.0
    tint: Attributes = {"stroke": ROLES.get(role, "currentColor"), "stroke_width": 4.0 if role else 1.0}
    return element(
        "circle",
        class_=f"probe {role}".strip(),
        cx=box.x - 11.5,
        cy=box.y - up,
        r=5 if role else 3.5,
        fill="none",
        **tint,
    )
