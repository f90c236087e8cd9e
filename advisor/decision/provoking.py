"""How to make a fault show that comes and goes."""

from __future__ import annotations

import numpy as np

from advisor.knowledge.model import Model
from advisor.network.engine import Posterior

MOVED = 3
"""So many places are named."""


def provoke(model: Model, belief: Posterior) -> str:
    """Say where a hand may make the fault show: the plugs and parts of its likeliest loose causes.

    Moving, warming, cooling and loading are common practice, no source; nobody is sent to drive for it.
    """
    loose = np.array([cause.mode.loose > 0.0 for cause in model.wiring.causes])
    shares = np.where(loose, model.worlds.with_cause(belief.weights), 0.0)
    titles = dict.fromkeys(_title(model, model.wiring.causes[i].part) for i in np.argsort(-shares, kind="stable"))
    places = ", ".join(list(titles)[:MOVED])
    return (
        f"everything tested reads sound, so the fault may not show now: watch the complaint while somebody moves "
        f"{places} and the wires beside them, then with heat, cold and all loads on"
    )


def _title(model: Model, part: str) -> str:
    connector = part.split("/", maxsplit=1)[0]
    found = model.schematic.connectors.get(connector)
    return found.title if found else model.wiring.items[part].title
