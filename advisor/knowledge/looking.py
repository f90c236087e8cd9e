"""How a person watches each kind of load, in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Watching:
    """What one does to a load to watch it, which word says that it works, what a share of it is a share of."""

    verb: str
    does: str
    share: str


WORDS: Mapping[str, Watching] = {
    "lamp": Watching("Look at", "light", "light"),
    "motor": Watching("Listen to", "run", "speed"),
    "horn": Watching("Listen to", "sound", "power"),
    "heater": Watching("Feel", "warm up", "power"),
    "gauge": Watching("Read", "move", "power at full"),
    "charge": Watching("Leave overnight", "lose its charge", "charge that may be missing"),
    "gassing": Watching("Listen to", "boil", "charge that makes it boil"),
}
"""By the load's kind."""
