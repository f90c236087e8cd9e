"""How much room a symbol needs with its label, and where its pins are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.drawing.graph import Symbol
from advisor.drawing.suspicion import odds
from advisor.drawing.svg import LINE, text_width, wrapped

SMALL = 10
"""Size of the letters of pins, details and shares [px]."""
LABEL = 104.0
"""Widest line of a label [px]; a longer word makes its own label wider."""
GLYPH = 15.0
"""Half the width of a symbol that stands between two pins [px]."""
HEIGHTS = {
    "wire": 26.0,
    "contact": 20.0,
    "splice": 16.0,
    "point": 0.0,
    "junction": 16.0,
    "bond": 16.0,
    "ground": 24.0,
    "body": 22.0,
    "source": 36.0,
}
_TWO_ENDED = 38.0
BOLD = 1.12
"""How much wider bold letters are, on the safe side; from memory."""
_PIN = 6.0
"""Room beside the name of a pin in a box [px]."""
_MARK = max(text_width(f"  {word}", SMALL) * BOLD for word in ("red", "black", "bridge", "probe"))
_SHARE = text_width(odds(0.99), SMALL) * BOLD + 8.0


@dataclass(frozen=True)
class Size:
    """Room to the left and right of a symbol's middle, its height, and its pins' offsets above and below [px]."""

    left: float
    right: float
    height: float
    up: Mapping[str, float]
    down: Mapping[str, float]
    lines: tuple[str, ...] = ()


def size_of(symbol: Symbol, up: Sequence[str], down: Sequence[str]) -> Size:
    """Measure a symbol whose pins leave it above and below, from left to right."""
    if symbol.boxed or len(up) > 1 or len(down) > 1:
        return _box(symbol, up, down)
    if symbol.glyph == "point":
        return Size(3.0, 3.0, 0.0, {}, {})
    lines = label_of(symbol)
    room = max((text_width(each) for each in lines), default=0.0)
    room = max(room * BOLD + (_MARK if symbol.probe else 0.0), _detail(symbol))
    rows = LINE * len(lines) + (LINE if detailed(symbol) else 0)
    return Size(GLYPH, GLYPH + 4.0 + room, max(HEIGHTS.get(symbol.glyph, _TWO_ENDED), rows), {}, {}, lines)


def label_of(symbol: Symbol) -> tuple[str, ...]:
    """Break a symbol's label into lines; a wire's has its colour beside its number."""
    if symbol.glyph == "wire":
        return (f"{symbol.label} {symbol.detail}",)
    return wrapped(symbol.label, LABEL)


def detailed(symbol: Symbol) -> bool:
    """Whether a symbol needs a line for its rating or its share."""
    return symbol.glyph not in {"point", "junction", "bond", "body"} and (symbol.suspect or bool(symbol.detail))


def _detail(symbol: Symbol) -> float:
    own = text_width(symbol.detail + " ", SMALL) if symbol.detail and symbol.glyph != "wire" else 0.0
    return own + (_SHARE if symbol.suspect else 0.0)


def _box(symbol: Symbol, up: Sequence[str], down: Sequence[str]) -> Size:
    lines = label_of(symbol)
    widest = max(*(text_width(each) for each in lines), _detail(symbol), 40.0) + 12.0
    upper, lower = (sum(text_width(pin, SMALL) + 2 * _PIN for pin in pins) for pins in (up, down))
    half = max(widest, upper, lower) / 2
    height = LINE * (len(lines) + 1) + LINE * (bool(up) + bool(down)) + 6.0
    return Size(half, half, height, _spaced(up, half), _spaced(down, half), lines)


def _spaced(pins: Sequence[str], half: float) -> dict[str, float]:
    """Space pins evenly over a box, each with the room that its name needs."""
    needs = [text_width(pin, SMALL) + 2 * _PIN for pin in pins]
    spare = (2 * half - sum(needs)) / max(1, len(pins))
    found, at = {}, -half
    for pin, need in zip(pins, needs, strict=True):
        found[pin] = at + (need + spare) / 2
        at += need + spare
    return found
