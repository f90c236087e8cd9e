"""SVG as text: escaped elements without style attributes or scripts, and how wide a text will be."""

from __future__ import annotations

from html import escape

Attributes = dict[str, str | float]
"""Attributes of an element by name."""
LINE = 14
"""Height of a line of a label [px]."""
TEXT = 12
"""Size of a label's letters [px]."""

# Widths of letters of a plain sans-serif face, as shares of the size, on the safe side; from memory.
_WIDE, _CAPITAL, _USUAL, _NARROW = 0.92, 0.72, 0.58, 0.32
_WIDEST = frozenset("MW@mw%")
_NARROWEST = frozenset("iljtf.,:;'|!()[] /")


def element(name: str, *inside: str, **attributes: str | float) -> str:
    """Give one element; `_` in an attribute's name stands for `-`, and `class_` for `class`.

    Args:
        name: Name of the element.
        inside: Elements inside of it, as text that is escaped already.
        attributes: Attributes, escaped here; lengths in px.

    """
    said = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_plain(value))}"' for key, value in attributes.items()
    )
    return f"<{name}{said}>{''.join(inside)}</{name}>" if inside else f"<{name}{said}/>"


def text(words: str, x: float, y: float, size: float = TEXT, **attributes: str | float) -> str:
    """Give a line of text that starts, or is anchored, at a point [px]."""
    return element("text", escape(words), x=x, y=y, font_size=size, fill="currentColor", **attributes)


def line(x1: float, y1: float, x2: float, y2: float, **attributes: str | float) -> str:
    """Give a straight line between two points [px]."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **attributes)


def image(width: float, height: float, title: str, desc: str, *inside: str, class_: str) -> str:
    """Give a whole image [px] that a screen reader knows by its title and its description."""
    return element(
        "svg",
        element("title", escape(title)),
        element("desc", escape(desc)),
        *inside,
        xmlns="http://www.w3.org/2000/svg",
        role="img",
        class_=class_,
        width=width,
        height=height,
        viewBox=f"0 0 {_plain(width)} {_plain(height)}",
        font_family="system-ui, Liberation Sans, Arial, sans-serif",
    )


def text_width(words: str, size: float = TEXT) -> float:
    """Give the width of a line of text [px], on the safe side."""
    return size * sum(_share(letter) for letter in words)


def wrapped(words: str, longest: float, size: float = TEXT) -> tuple[str, ...]:
    """Break a text at its blanks into lines no wider than a width [px], where a single word is not wider by itself."""
    lines: list[str] = []
    for word in words.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, size) <= longest:
            lines[-1] = joined
        else:
            lines.append(word)
    return tuple(lines)


def _share(letter: str) -> float:
    if letter in _WIDEST:
        return _WIDE
    if letter in _NARROWEST:
        return _NARROW
    return _CAPITAL if letter.isupper() else _USUAL


def _plain(value: str | float) -> str:
    return value if isinstance(value, str) else f"{round(value, 2):g}"
