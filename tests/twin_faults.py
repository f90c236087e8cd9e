"""Faults of virtual vehicles: drawn as a model's own prior has them, with nothing cut off and nothing put in classes.

Sets of any number of faults, exact resistances inside the severity cells, and faults that no model file lists.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.circuit.netlist import OPEN, Change
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle, place_events
from advisor.network.priors import odds
from advisor.network.worlds import SPECIALS


@dataclass(frozen=True)
class Fault:
    """What is wrong with one vehicle: causes by index, or a special hypothesis; and the electrical changes."""

    causes: tuple[int, ...]
    special: int | None
    changes: tuple[Change, ...] = ()


class FaultSets:
    """Draws fault sets of one model, those that it enumerates and those that it leaves out.

    Args:
        model: Whose prior is drawn from.
        exact: Whether a resistance lies anywhere in its cell, not at the centre.
    """

    def __init__(self, model: Model, *, exact: bool = True) -> None:
        self.model, self.exact, worlds = model, exact, model.worlds
        self.root, self.x = model.prior(Vehicle()), model.prevalence(Vehicle())
        self.first = np.searchsorted(worlds.severity_cause, np.arange(len(worlds.causes)))
        self.odds = odds(np.bincount(worlds.severity_cause, self.x), worlds.cause_part)
        self.kept = {frozenset(row[row >= 0].tolist()) for row in worlds.members[SPECIALS:]}
        parts = np.bincount(worlds.cause_part, self.odds, minlength=int(worlds.cause_part.max()) + 1)
        self.faulty = parts / (1.0 + parts)  # of each part, by itself
        self.events = [e for e in place_events(model.wiring) if self._several(len(e.parts), e.attack) > 0.0]

    def enumerated(self, hypothesis: int, rng: np.random.Generator) -> Fault:
        """One of the model's hypotheses, in one exact severity of those that it stands for."""
        worlds, found = self.model.worlds, []
        for cause, (low, high) in zip(worlds.members[hypothesis], worlds.severities[hypothesis], strict=True):
            if cause >= 0:
                found.append(self._severity(int(cause), int(low), int(high), rng))
        return self._fault(worlds.members[hypothesis], found)

    def left_out(self, rng: np.random.Generator) -> Fault | None:
        """A set of two or more faults by the full prior; None where the model enumerates it."""
        causes = self._by_event(rng) if rng.random() < self._event_share else self._by_chance(rng)
        if frozenset(causes) in self.kept:
            return None
        ends = [(int(self.first[c]), int(self.first[c]) + len(self.model.wiring.causes[c].variants)) for c in causes]
        return self._fault(causes, [self._severity(c, *end, rng) for c, end in zip(causes, ends, strict=True)])

    @property
    def mass_of_several(self) -> float:
        """Prior mass of all sets of two or more faults, place events included, before anything is left out."""
        by_event = sum(e.prevalence * self._several(len(e.parts), e.attack) for e in self.events)
        room = 1.0 - float(self.root.weights[1:SPECIALS].sum())
        return room * (float(self._pairs.sum()) + by_event) / (1.0 + by_event)

    @property
    def _event_share(self) -> float:
        by_event = sum(e.prevalence * self._several(len(e.parts), e.attack) for e in self.events)
        return by_event / (by_event + float(self._pairs.sum()))

    @staticmethod
    def _several(parts: int, attack: float) -> float:
        return 1.0 - (1.0 - attack) ** parts - parts * attack * (1.0 - attack) ** (parts - 1)

    @property
    def _pairs(self) -> np.ndarray:
        """P(the first faulty part is i and the second is j), shape (P, P)."""
        log_sound = np.append(0.0, np.cumsum(np.log1p(-self.faulty)))
        ratio = self.faulty / (1.0 - self.faulty)
        return np.triu(np.outer(ratio, ratio) * np.exp(log_sound[1:])[None, :], 1)

    def _by_chance(self, rng: np.random.Generator) -> list[int]:
        table = self._pairs
        first, second = divmod(int(rng.choice(table.size, p=(table / table.sum()).ravel())), len(table))
        later = second + 1 + np.flatnonzero(rng.random(len(table) - second - 1) < self.faulty[second + 1 :])
        return [self._mode(part, rng) for part in (first, second, *later.tolist())]

    def _by_event(self, rng: np.random.Generator) -> list[int]:
        chances = np.array([e.prevalence * self._several(len(e.parts), e.attack) for e in self.events])
        event = self.events[int(rng.choice(len(self.events), p=chances / chances.sum()))]
        while True:
            hit = np.array(event.parts)[rng.random(len(event.parts)) < event.attack]
            if len(hit) > 1:
                return [self._mode(part, rng) for part in hit.tolist()]

    def _mode(self, part: int, rng: np.random.Generator) -> int:
        causes = np.flatnonzero(self.model.worlds.cause_part == part)
        return int(rng.choice(causes, p=self.odds[causes] / self.odds[causes].sum()))

    def _severity(self, cause: int, low: int, high: int, rng: np.random.Generator) -> tuple[Change, ...]:
        """One severity of a range, by prevalence; a resistance anywhere in its cell, log-uniform."""
        cell = low + int(rng.choice(high - low, p=self.x[low:high] / self.x[low:high].sum()))
        variants = self.model.wiring.causes[cause].variants
        changes = variants[cell - int(self.first[cause])]
        if not self.exact or len(variants) == 1:
            return changes
        step = variants[1][0].value / variants[0][0].value
        return tuple(replace(c, value=c.value * step ** rng.uniform(-0.5, 0.5)) for c in changes)

    @staticmethod
    def _fault(causes: Sequence[int], changes: Sequence[tuple[Change, ...]]) -> Fault:
        return Fault(tuple(int(c) for c in causes if c >= 0), None, sum(changes, ()))


def outside_fault(model: Model, special: int, rng: np.random.Generator) -> Fault:
    """A fault that no file lists: resistance in what is assumed good, a chafed wire of some ohms, a wrong lamp."""
    elements = model.wiring.netlist.elements
    fixed = [i for i, e in enumerate(elements) if e.ohms < OPEN and e.id not in model.wiring.items]
    shunts = [i for i, e in enumerate(elements) if e.kind == "conductor" and e.ohms == OPEN]
    lamps = [i for i, e in enumerate(elements) if e.kind == "lamp"]
    kind = rng.integers(3)
    if kind == 0:
        change = Change(int(rng.choice(fixed)), "add", float(10.0 ** rng.uniform(-0.5, 4.5)))
    elif kind == 1:
        change = Change(int(rng.choice(shunts)), "set", float(10.0 ** rng.uniform(0.0, 4.0)))
    else:
        change = Change(int(rng.choice(lamps)), "scale", float(3.0 ** rng.uniform(-1.0, 1.0)))
    return Fault((), special, (change,))
