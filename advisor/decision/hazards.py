"""When a test is withheld because it could do harm."""

from __future__ import annotations

HAZARD_SHARE = 0.01
"""A jumper is withheld while hypotheses that would overload its fuse hold more than this: judgement, no source."""
