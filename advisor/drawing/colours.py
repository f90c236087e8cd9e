"""Wire colours of IEC 60757 as a screen shows them, and as they are said."""

from __future__ import annotations

# IEC 60757 codes; the screen's tints are judgement, no source.
COLOURS = {
    "BK": ("black", "#1a1a1a"),
    "BN": ("brown", "#7a4a21"),
    "RD": ("red", "#c8281e"),
    "OG": ("orange", "#ee7f1a"),
    "YE": ("yellow", "#f2d21b"),
    "GN": ("green", "#2e8b3d"),
    "BU": ("blue", "#2763b8"),
    "VT": ("violet", "#7a3fa0"),
    "GY": ("grey", "#8d9499"),
    "WH": ("white", "#ffffff"),
    "PK": ("pink", "#f09ab8"),
    "GD": ("gold", "#c9a227"),
    "TQ": ("turquoise", "#25a7a0"),
    "SR": ("silver", "#c3c9cc"),
}


def tints(code: str) -> tuple[str, str]:
    """Give the tints of a wire's base and of its tracer, the same where it has none; code of one or two colours."""
    return COLOURS[code[:2]][1], COLOURS[code[2:] or code[:2]][1]


def spoken(code: str) -> str:
    """Say a colour code.

    >>> spoken("GNWH"), spoken("BN")
    ('green with white', 'brown')
    """
    names = [COLOURS[part][0] for part in (code[:2], code[2:]) if part]
    return " with ".join(names)
