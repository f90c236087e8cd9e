"""The face of a connector, from the wires or from the contacts, as an image and as a grid of numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from advisor.drawing.colours import spoken, tints
from advisor.drawing.svg import Attributes, element, image, text, text_width, wrapped
from advisor.knowledge.documents import Connector, Schematic, Wire

SIDES = ("wires", "contacts")
OTHER = {"left": "right", "right": "left"}
ROLES = {"red": "#c02418", "black": "#111111", "bridge": "#6a3fa0", "probe": "#0b4f7d"}
_HEIGHT, _GAP, _EDGE = 70, 5, 24
_WIDTHS = ((6, 50), (9, 38), (100, 34))
"""Up to how many columns a cavity is how wide [px]: nine fit a phone's 390 px, more are scrolled."""


@dataclass(frozen=True)
class Cavity:
    """One cavity of a face: its name, row and column from 0 as they are seen, the wires in it, its mark or ''."""

    name: str
    row: int
    column: int
    wires: tuple[Wire, ...]
    mark: str


@dataclass(frozen=True)
class Face:
    """A connector as seen from one side; latch and key are where they are seen, '' where the file has none."""

    connector: Connector
    side: str
    half: str
    rows: int
    columns: int
    cavities: tuple[Cavity, ...]
    latch: str
    key: str

    @property
    def title(self) -> str:
        """What is seen, and from where."""
        half = f", half {self.half}" if self.half else ""
        return f"{self.connector.title}{half}, looking at the {self.side}"

    @property
    def words(self) -> str:
        """All that the image shows, for whoever does not see it."""
        marked = [f"{said(c.mark)} at cavity {c.name}" for c in self.cavities if c.mark]
        used = [f"cavity {c.name}: {', '.join(f'wire {w.id} {spoken(w.colour)}' for w in c.wires)}" for c in self.used]
        empty = [c.name for c in self.cavities if not c.wires]
        parts = [f"{len(self.cavities)} cavities in {self.rows} {'row' if self.rows == 1 else 'rows'}", *marked]
        parts += [f"latch at the {self.latch}"] if self.latch else []
        parts += [f"key at the {self.key}"] if self.key else []
        parts += used
        return "; ".join(parts + ([f"unused: {', '.join(empty)}"] if empty else []))

    @property
    def used(self) -> tuple[Cavity, ...]:
        """The cavities with wires."""
        return tuple(cavity for cavity in self.cavities if cavity.wires)


def said(role: str) -> str:
    """Say what a marked cavity is for.

    >>> said("red"), said("probe")
    ('red lead', 'probe here')
    """
    return {"probe": "probe here", "bridge": "jumper"}.get(role, f"{role} lead")


def face(
    schematic: Schematic, connector: str, side: str = "wires", marks: Mapping[str, str] | None = None, half: str = ""
) -> Face:
    """See a connector from one side.

    The file's rows are the wire side of a plug, and of half `a` of an inline connector, unless it says
    `drawn_from: contacts`; from the other side, and on half `b`, left and right change places.

    Args:
        schematic: The circuit.
        connector: Id of one of its connectors.
        side: What one looks at, `wires` or `contacts`.
        marks: What each marked cavity is for: red, black, bridge or probe, by the cavity's name.
        half: `a` or `b` of an inline connector; `a` if left out.

    Raises:
        KeyError: There is no such connector.

    """
    plug, marked = schematic.connectors[connector], marks or {}
    half = (half or "a") if plug.inline else ""
    flipped = ((side == "contacts") + (half == "b") + (plug.drawn_from == "contacts")) % 2 == 1
    columns = -(-len(plug.cavities) // plug.rows)
    cavities = []
    for place, name in enumerate(plug.cavities):
        row, column = divmod(place, columns)
        seen = columns - 1 - column if flipped else column
        node = f"{connector}/{name}" + (f"/{half}" if half else "")
        wires = tuple(wire for wire in schematic.wires.values() if node in (wire.start, wire.end))
        cavities.append(Cavity(name, row, seen, wires, marked.get(name, "")))
    latch, key = (OTHER.get(where, where) if flipped else where for where in (plug.latch, plug.key))
    return Face(plug, side, half, plug.rows, columns, tuple(cavities), latch, key)


def face_text(seen: Face) -> str:
    """Give a face as a grid of numbers, marked cavities in brackets, unused ones with a point before the name."""
    cells = {(c.row, c.column): f"[{c.name}]" if c.mark else c.name if c.wires else f".{c.name}" for c in seen.cavities}
    width = max(len(cell) for cell in cells.values()) + 1
    grid = [
        "".join(cells[row, column].center(width) for column in range(seen.columns)).rstrip() for row in range(seen.rows)
    ]
    notes = [f"{name} at the {where}" for name, where in (("latch", seen.latch), ("key", seen.key)) if where]
    rows = [f"  {c.name:>3}  {', '.join(f'{w.id} {w.colour} {w.gauge_mm2:g} mm2' for w in c.wires)}" for c in seen.used]
    return "\n".join([seen.title, "", *grid, "", *([", ".join(notes)] if notes else []), *rows])


def face_svg(seen: Face) -> str:
    """Draw a face as SVG text."""
    wide = next(width for most, width in _WIDTHS if seen.columns <= most)
    width = seen.columns * (wide + _GAP) + _GAP
    height = seen.rows * (_HEIGHT + _GAP) + _GAP
    whole = max(width + 2 * _EDGE, 220)
    left = (whole - width) / 2
    notes = wrapped(_footer(seen), whole - 12, 11)
    shell = element(
        "rect", class_="shell", x=left, y=_EDGE, width=width, height=height, rx=7, fill="none", stroke="currentColor"
    )
    drawn = [_cavity(cavity, left + _GAP, _EDGE + _GAP, wide) for cavity in seen.cavities]
    below = 2 * _EDGE + height
    lines = [text(note, whole / 2, below + 10 + 14 * i, 11, text_anchor="middle") for i, note in enumerate(notes)]
    box = (left, float(_EDGE), float(width), float(height))
    return image(
        whole,
        below + 16 + 14 * len(notes),
        seen.title,
        seen.words,
        *_side_marks(seen, box),
        shell,
        *drawn,
        *lines,
        class_="connector-face",
    )


def _footer(seen: Face) -> str:
    size = f"; contacts {seen.connector.contact_mm:g} mm" if seen.connector.contact_mm else ""
    return f"looking at the {seen.side}{size}"


def _cavity(cavity: Cavity, left: float, top: float, wide: float) -> str:
    x, y = left + cavity.column * (wide + _GAP), top + cavity.row * (_HEIGHT + _GAP)
    middle = x + wide / 2
    frame = element(
        "rect",
        class_=f"cavity {cavity.mark}".strip(),
        x=x,
        y=y,
        width=wide,
        height=_HEIGHT,
        rx=4,
        fill="none",
        stroke=ROLES.get(cavity.mark, "currentColor"),
        stroke_width=4 if cavity.mark else 1,
        **({} if cavity.wires else {"stroke_dasharray": "3 3"}),
    )
    inside = _wire(cavity.wires, middle, y, wide) if cavity.wires else _empty(middle, y)
    return frame + _name(cavity, x, y, wide) + inside


def _name(cavity: Cavity, x: float, y: float, wide: float) -> str:
    """Write a cavity's name, on its mark's colour and with the mark's word under it where it has one."""
    middle = x + wide / 2
    if not cavity.mark:
        weight = 600 if cavity.wires else 400
        return text(cavity.name, middle, y + 16, 14, text_anchor="middle", font_weight=weight)
    ground = element("rect", x=x, y=y, width=wide, height=30, rx=3, fill=ROLES[cavity.mark], class_=cavity.mark)
    light: Attributes = {"fill": "#ffffff", "font_weight": 700, "text_anchor": "middle"}
    name = element("text", escape(cavity.name), x=middle, y=y + 15, font_size=14, **light)
    return ground + name + element("text", cavity.mark, x=middle, y=y + 26, font_size=10, **light)


def _wire(wires: Sequence[Wire], middle: float, y: float, wide: float) -> str:
    """Draw a cavity's first wire: base colour with its tracer, the code and the number; more of them are counted."""
    wire, more = wires[0], f" +{len(wires) - 1}" if len(wires) > 1 else ""
    base, tracer = tints(wire.colour)
    size = 10 if text_width(wire.id + more, 10) <= wide - 2 else 8
    return "".join(
        (
            element("rect", x=middle - 13, y=y + 33, width=26, height=9, rx=2, fill=base, stroke="currentColor"),
            element("rect", x=middle - 13, y=y + 36.5, width=26, height=2.5, fill=tracer),
            text(wire.colour, middle, y + 54, 10, text_anchor="middle"),
            text(wire.id + more, middle, y + 66, size, text_anchor="middle"),
        )
    )


def _empty(middle: float, y: float) -> str:
    return text("–", middle, y + 44, 12, text_anchor="middle", class_="unused")


def _side_marks(seen: Face, box: tuple[float, float, float, float]) -> list[str]:
    """Draw latch and key outside the shell, each with its word; on one side the key stands beside the latch."""
    beside = 52.0 if seen.latch == seen.key else 0.0
    marks = (("latch", seen.latch, (46.0, 9.0), 0.0), ("key", seen.key, (12.0, 7.0), beside))
    return [_side_mark(name, _edge(where, box, size, off)) for name, where, size, off in marks if where]


def _edge(
    where: str, box: tuple[float, float, float, float], size: tuple[float, float], off: float
) -> tuple[tuple[float, float, float, float], tuple[float, float]]:
    """Give the rectangle (x, y, width, height) of a mark at an edge of a box, and where its word stands [px]."""
    (x, y, width, height), (long, deep) = box, size
    across, down = x + width / 2 + off, y + height / 2 + off / 2
    return {
        "top": ((across - long / 2, y - deep, long, deep), (across, y - deep - 3)),
        "bottom": ((across - long / 2, y + height, long, deep), (across, y + height + deep + 10)),
        "left": ((x - deep, down - long / 2, deep, long), (x - 12, down - long / 2 - 4)),
        "right": ((x + width, down - long / 2, deep, long), (x + width + 12, down - long / 2 - 4)),
    }[where]


def _side_mark(name: str, edge: tuple[tuple[float, float, float, float], tuple[float, float]]) -> str:
    (x, y, width, height), word = edge
    shape = element("rect", class_=name, x=x, y=y, width=width, height=height, rx=2, fill="currentColor")
    return shape + text(name, *word, 10, text_anchor="middle")
