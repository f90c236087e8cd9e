"""Cells of a table of orders as text that a spreadsheet takes for text."""

from __future__ import annotations

# What a spreadsheet takes for a formula: https://owasp.org/www-community/attacks/CSV_Injection
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
Cell = str | float | None


def inert(cell: Cell) -> str:
    """Give a cell as text that no spreadsheet takes for a formula; `active` undoes it."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return f"'{cell}" if cell.lstrip("'").startswith(_FORMULA) else cell
    return f"{cell:.12g}"


def active(text: str) -> str:
    """Give a text as it was before `inert`.

    >>> inert("=1+1"), active("'=1+1"), active("'tis"), active(inert("'=1"))
    ("'=1+1", '=1+1', "'tis", "'=1")
    """
    return text[1:] if text.startswith("'") and text.lstrip("'").startswith(_FORMULA) else text
