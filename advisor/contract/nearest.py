"""The nearest valid name, for messages about unknown ones."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

SHOWN = 6
LONGEST = 80


def shown(value: object) -> str:
    """Give a value of the caller as short printable text."""
    text = ascii(value)
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def unknown(what: str, name: str, valid: Iterable[str]) -> str:
    """Say that a name is unknown and which valid name is nearest, or which names there are."""
    names = sorted(valid)
    # Long names cost quadratic time to compare and are never a slip of the finger.
    close = difflib.get_close_matches(name, names, n=1, cutoff=0.5) if len(name) <= LONGEST else []
    if close:
        return f"unknown {what} {shown(name)}; did you mean {close[0]}?"
    listed = ", ".join(names[:SHOWN]) + (", …" if len(names) > SHOWN else "")
    return f"unknown {what} {shown(name)}; " + (f"there are: {listed}" if names else f"there is no {what}")
