"""Which reading tells best whether a connector is read from the right side."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from advisor.decision.advice import Bearings
from advisor.knowledge.model import Model
from advisor.network.engine import Posterior

LEAST_BITS = 0.3
"""What a reading must tell of the side, of the one bit that there is, to be worth proposing: judgement, no source."""
_ALIKE_BITS = 0.05
"""Readings that tell so nearly the same are told apart by their minutes: judgement, no source."""


def bearings_at(
    model: Model, belief: Posterior, connector: str, among: Collection[str], condition: str = ""
) -> Bearings | None:
    """Give the best of some tests at a connector, of equals one that needs no other condition; None if none tells much.

    What a reading tells is the mutual information of its outcome and the side, either side as likely: the
    Jensen-Shannon divergence of what both would show (Lin, "Divergence measures based on the Shannon entropy", IEEE
    Trans. Inf. Theory 37, 1991).
    """
    found = []
    for id in among:
        turned = model.mirrored(id)
        if turned is None or turned.connector != connector:
            continue
        sides = model.either_side(id, belief.showing, belief.states)
        test, bits = model.tests[id], _divergence(*sides)
        right, mirrored = (test.outcomes[int(np.argmax(side))].label for side in sides)
        rank = (-round(bits / _ALIKE_BITS), test.condition != condition, test.minutes, id)
        found.append((rank, Bearings(id, connector, right, mirrored, bits)))
    best = min(found, key=lambda pair: pair[0], default=None)
    return best[1] if best and best[1].bits >= LEAST_BITS else None


def _divergence(p: NDArray[np.float64], q: NDArray[np.float64]) -> float:
    """Jensen-Shannon divergence of two distributions [bits]."""
    middle = (p + q) / 2.0
    logs = [np.log2(np.divide(x, middle, out=np.ones_like(x), where=x > 0.0)) for x in (p, q)]
    return float((p @ logs[0] + q @ logs[1]) / 2.0)


def bearings_for(model: Model, belief: Posterior, test: str, left: Collection[str]) -> Bearings | None:
    """Give what finds the bearings at the connector of a test, before it is done; None where nothing has to be found.

    With some reading of the connector known the side mostly is; the test itself may tell most, and then needs no other.
    """
    turned = model.mirrored(test)
    if turned is None or turned.connector in belief.mirrored:
        return None
    found = bearings_at(model, belief, turned.connector, left, model.tests[test].condition)
    return found if found and found.test != test else None


def suspected(belief: Posterior, least: float) -> str | None:
    """Give the connector that is likeliest read from the other side, if that is likely enough."""
    name = max(belief.mirrored, key=lambda each: belief.mirrored[each], default=None)
    return name if name is not None and belief.mirrored[name] >= least else None
