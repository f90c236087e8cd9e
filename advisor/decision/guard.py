"""No control unit is condemned before its feeds and grounds, its inputs and its loads are proved good.

A pin counts as proved once findings leave little to the faults on its way that could stand in for the unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np

from advisor.decision.advice import NotProved
from advisor.decision.bench import groundwork
from advisor.knowledge.model import Model
from advisor.knowledge.terminals import Terminal, guarded, terminals
from advisor.network.worlds import Bools, Floats, Worlds

PROVED = 0.02
"""A pin is proved once faults on its way, the unit itself being good, have no more than this: judgement, no source."""
SUSPECT = 0.05
"""Share from which it is told what of a unit is not proved yet: judgement, no source."""


@dataclass(frozen=True, eq=False)
class Guard:
    """The pins of all guarded parts of a model, N of them, and which hypotheses blame what.

    Attributes:
        pins: The pins.
        repairs: Of each pin, the repairs that condemn its part.
        alone: Where a hypothesis holds a fault on the way of a pin and none of its part, shape (N, H).
        culprit: Where it holds a fault of the pin's part, shape (N, H).
    """

    pins: tuple[Terminal, ...]
    repairs: tuple[frozenset[int], ...]
    alone: Bools
    culprit: Bools

    @cached_property
    def held(self) -> frozenset[int]:
        """All repairs that may have to wait."""
        return frozenset[int]().union(*self.repairs)

    def open_pins(self, belief: Floats, repair: int) -> list[int]:
        """Pins that are to be proved before a repair, for a belief that sums to 1, shape (H,)."""
        if repair not in self.held:
            return []
        return [i for i, own in enumerate(self.repairs) if repair in own and self.share(belief, i) > PROVED]

    def share(self, belief: Floats, pin: int) -> float:
        """Probability of a fault on a pin's way with its part good."""
        return float(belief[self.alone[pin]].sum())

    def left(self, worlds: Worlds, belief: Floats, pin: int, tests: Sequence[int]) -> Floats:
        """What is left of that share once each test came out as it most likely does if the part is bad, shape (T,)."""
        alone, culprit = self.alone[pin], self.culprit[pin]
        bad, rest = belief[culprit] @ worlds.likelihood[culprit], belief[alone] @ worlds.likelihood[alone]
        whole, result = belief @ worlds.likelihood, np.zeros(len(tests))
        for i, test in enumerate(tests):
            columns = worlds.columns[test]
            seen = columns.start + int(bad[columns].argmax())
            result[i] = rest[seen] / whole[seen] if whole[seen] > 0.0 else np.inf
        return result

    def proving(self, worlds: Worlds, belief: Floats, repair: int, tests: Sequence[int]) -> list[int]:
        """Tests that would prove a pin which is open before a repair, or halve what speaks against it."""
        found: set[int] = set()
        for pin in self.open_pins(belief, repair):
            enough = max(PROVED, self.share(belief, pin) / 2.0)
            left = self.left(worlds, belief, pin, tests)
            found |= {test for test, share in zip(tests, left, strict=True) if share <= enough}
        return sorted(found)

    def not_proved(
        self, worlds: Worlds, belief: Floats, tests: Sequence[int], prices: Sequence[float]
    ) -> tuple[NotProved, ...]:
        """What is not proved yet of each part that is suspect."""
        return tuple(
            NotProved(
                pin.part,
                pin.pin,
                pin.role,
                pin.node,
                self.share(belief, i),
                self._test(worlds, belief, i, tests, prices),
            )
            for i, pin in enumerate(self.pins)
            if belief[self.culprit[i]].sum() >= SUSPECT and self.share(belief, i) > PROVED
        )

    def _test(
        self, worlds: Worlds, belief: Floats, pin: int, tests: Sequence[int], prices: Sequence[float]
    ) -> str | None:
        left, now = self.left(worlds, belief, pin, tests), self.share(belief, pin)
        rows = [
            (max(share, PROVED), price, worlds.tests[t]) for share, price, t in zip(left, prices, tests, strict=True)
        ]
        least, _, test = min(rows, default=(np.inf, 0.0, ""))
        return test if least <= max(PROVED, now / 2.0) else None


_KEPT: WeakKeyDictionary[Model, Guard] = WeakKeyDictionary()


def guard_of(model: Model) -> Guard:
    """The guard of a model, made at its first use and kept as long as the model is."""
    found = _KEPT.get(model)
    if found is None:
        found = _KEPT[model] = _made(model)
    return found


def _made(model: Model) -> Guard:
    pins = tuple(pin for part in guarded(model.wiring) for pin in terminals(model.wiring, part))
    causes, plans = model.wiring.causes, groundwork(model).plans
    holds = model.worlds.holds
    own = np.array([[c.part == pin.part for c in causes] for pin in pins], dtype=bool).reshape(len(pins), len(causes))
    way = np.array([[c.part in pin.items for c in causes] for pin in pins], dtype=bool).reshape(own.shape)
    culprit, alone = (own @ holds.T), (way @ holds.T)
    repairs = tuple(
        frozenset(
            i for i, plan in enumerate(plans) if any(c.part == pin.part and c.id in plan.restores for c in causes)
        )
        for pin in pins
    )
    return Guard(pins, repairs, alone & ~culprit, culprit)
