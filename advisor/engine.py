"""The engine over the circuits that ship with the package, as the front ends use it."""

from __future__ import annotations

from functools import cache

import advisor
from advisor.contract.engine import Engine
from advisor.decision.advise import decide
from advisor.knowledge.shipped import shipped_circuits


def shipped_engine() -> Engine:
    """Give the engine over the shipped circuits; it loads a circuit once and keeps it."""
    return Engine(circuits=shipped_circuits, load=cache(advisor.load), decide=decide)
