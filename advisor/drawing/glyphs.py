"""Symbols of the trade, simple ones in the spirit of IEC 60617, around their middle [px]."""

from __future__ import annotations

from collections.abc import Callable

from advisor.drawing.colours import tints
from advisor.drawing.svg import Attributes, element, line

HALF = 14.0
"""Half the height of a symbol between two pins [px]."""
_STROKE: Attributes = {"stroke": "currentColor", "stroke_width": 1.5, "fill": "none"}


def glyph(kind: str, x: float, top: float, bottom: float, detail: str = "") -> str:
    """Draw the symbol of a kind between a top and a bottom at x; `detail` is a wire's colour code."""
    if kind == "wire":
        return _wire(x, top, bottom, detail)
    middle = (top + bottom) / 2
    draw = _DRAWN.get(kind)
    if draw is None:
        return line(x, top, x, bottom, **_STROKE)
    return draw(x, middle) + _leads(kind, x, top, middle, bottom)


def _leads(kind: str, x: float, top: float, middle: float, bottom: float) -> str:
    """Lead a symbol's two ends to the edges of its box; what stands at an end has one."""
    reach = _REACH.get(kind, HALF)
    upper = line(x, top, x, middle - reach, **_STROKE) if middle - reach > top else ""
    lower = line(x, middle + reach, x, bottom, **_STROKE) if bottom > middle + reach and kind not in _ENDS else ""
    return upper + lower


def _wire(x: float, top: float, bottom: float, colour: str) -> str:
    base, tracer = tints(colour)
    return "".join(
        (
            line(x, top, x, bottom, stroke="currentColor", stroke_width=6),
            line(x, top, x, bottom, stroke=base, stroke_width=4),
            line(x, top, x, bottom, stroke=tracer, stroke_width=1.6),
        )
    )


def _fuse(x: float, y: float) -> str:
    box = element("rect", x=x - 6, y=y - HALF, width=12, height=2 * HALF, **_STROKE)
    return box + line(x, y - HALF, x, y + HALF, **_STROKE)


def _thermal(x: float, y: float) -> str:
    return _fuse(x, y) + element("path", d=f"M{x - 12:g} {y + 8:g}h4v-16h16v-6", **_STROKE)


def _resistor(x: float, y: float) -> str:
    return element("rect", x=x - 6, y=y - HALF, width=12, height=2 * HALF, **_STROKE)


def _switch(x: float, y: float) -> str:
    dots = _dot(x, y - HALF) + _dot(x, y + HALF)
    return dots + line(x, y + HALF, x - 10, y - HALF + 3, **_STROKE)


def _lamp(x: float, y: float) -> str:
    ring = element("circle", cx=x, cy=y, r=12, **_STROKE)
    return (
        ring + line(x - 8.5, y - 8.5, x + 8.5, y + 8.5, **_STROKE) + line(x - 8.5, y + 8.5, x + 8.5, y - 8.5, **_STROKE)
    )


def _motor(x: float, y: float) -> str:
    ring = element("circle", cx=x, cy=y, r=12, **_STROKE)
    return ring + element("text", "M", x=x, y=y + 5, font_size=13, text_anchor="middle", fill="currentColor")


def cell(x: float, y: float) -> str:
    """Draw the plates of a battery beside its name."""
    plates = ((-9, 8), (-5, 4), (-1, 8), (3, 4))
    return "".join(line(x - half, y + at, x + half, y + at, **_STROKE) for at, half in plates)


def _contact(x: float, y: float) -> str:
    return element("path", d=f"M{x - 6:g} {y - 7:g}l6 6l6 -6", **_STROKE) + element(
        "path", d=f"M{x - 6:g} {y - 1:g}l6 6l6 -6", **_STROKE
    )


def _ground(x: float, y: float) -> str:
    bars = ((0, 10), (4, 6.5), (8, 3))
    return line(x, y - 12, x, y, **_STROKE) + "".join(
        line(x - half, y + at, x + half, y + at, **_STROKE) for at, half in bars
    )


def _body(x: float, y: float) -> str:
    slants = "".join(line(x + at, y, x + at - 4, y + 6, **_STROKE) for at in (-8, 0, 8))
    return line(x, y - 11, x, y, **_STROKE) + line(x - 10, y, x + 10, y, **_STROKE) + slants


def _conductor(x: float, y: float) -> str:
    return _dot(x, y - HALF + 3) + _dot(x, y + HALF - 3) + line(x, y - HALF, x, y + HALF, **_STROKE)


def _gap(x: float, y: float) -> str:
    tips = _dot(x, y - 6) + _dot(x, y + 6)
    return tips + line(x, y - HALF, x, y - 6, **_STROKE) + line(x, y + 6, x, y + HALF, **_STROKE)


def _link(x: float, y: float) -> str:
    return "".join(line(x, y + at, x, y + at + 4, **_STROKE) for at in (-HALF, -HALF + 8, -2, HALF - 12, HALF - 4))


def _splice(x: float, y: float) -> str:
    return element("circle", cx=x, cy=y, r=4, fill="currentColor") + line(x, y - 8, x, y + 8, **_STROKE)


def _junction(x: float, y: float) -> str:
    return element("rect", x=x - 7, y=y - 2, width=14, height=4, fill="currentColor") + line(
        x, y - 8, x, y + 8, **_STROKE
    )


def _dot(x: float, y: float) -> str:
    return element("circle", cx=x, cy=y, r=2.5, fill="currentColor")


_DRAWN: dict[str, Callable[[float, float], str]] = {
    "fuse": _fuse,
    "thermal-fuse": _thermal,
    "resistor": _resistor,
    "heater": _resistor,
    "sender": _resistor,
    "link": _link,
    "switch": _switch,
    "lamp": _lamp,
    "motor": _motor,
    "contact": _contact,
    "ground": _ground,
    "body": _body,
    "conductor": _conductor,
    "gap": _gap,
    "splice": _splice,
    "junction": _junction,
    "bond": _junction,
}
_REACH = {
    "lamp": 12.0,
    "motor": 12.0,
    "contact": 5.0,
    "splice": 8.0,
    "junction": 8.0,
    "bond": 8.0,
    "ground": 12.0,
    "body": 11.0,
}
_ENDS = frozenset({"ground", "body"})
