"""How strongly a part is suspected, so that it is seen with and without colour."""

from __future__ import annotations

LEAST = 0.02
"""Shares below are not drawn: judgement, no source."""
LEVELS = (LEAST, 0.1, 0.3)
"""From which share a part is drawn a little, more, and strongly suspected: judgement, no source."""


def level(share: float) -> int:
    """Give the level of a share of one: 0 not suspected, 3 strongly."""
    return sum(share >= least for least in LEVELS)


def odds(share: float) -> str:
    """Say a share of one as so many in ten, or in a hundred where it is small.

    >>> odds(0.43), odds(0.034), odds(0.99)
    ('4 in 10', '3 in 100', 'over 9 in 10')
    """
    if share >= 0.95:
        return "over 9 in 10"
    return f"{round(share * 10)} in 10" if share >= 0.095 else f"{round(share * 100)} in 100"
