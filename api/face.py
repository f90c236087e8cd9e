"""The drawing of a connector: where each cavity sits, which one is probed, seen from either side."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.knowledge.documents import Connector

CELL = 34
GAP = 4


@dataclass(frozen=True)
class Cell:
    """One cavity of a drawing [px]; `role` is red, black or empty."""

    name: str
    x: int
    y: int
    role: str


@dataclass(frozen=True)
class Face:
    """A connector as it is drawn [px], with the probed cavities marked."""

    title: str
    side: str
    width: int
    height: int
    cells: tuple[Cell, ...]
    words: str


def draw(connector: Connector, roles: dict[str, str], *, mirrored: bool) -> Face:
    """Draw a connector; cavities in the file's order are seen from the wire side, mirrored from the mating side."""
    columns = -(-len(connector.cavities) // connector.rows)
    cells = []
    for place, name in enumerate(connector.cavities):
        row, column = divmod(place, columns)
        column = columns - 1 - column if mirrored else column
        cells.append(Cell(name, GAP + column * (CELL + GAP), GAP + row * (CELL + GAP), roles.get(name, "")))
    side = "mating side" if mirrored else "wire side"
    marked = ", ".join(f"{role} at cavity {name}" for name, role in roles.items())
    return Face(
        title=connector.title,
        side=side,
        width=GAP + columns * (CELL + GAP),
        height=GAP + connector.rows * (CELL + GAP),
        cells=tuple(cells),
        words=f"{connector.title} from the {side}, {len(cells)} cavities in {connector.rows} rows, {marked}",
    )
