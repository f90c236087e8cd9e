"""What releases of priors make of the library's rates, how answers name them, and how two of them differ."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from advisor.knowledge.learned import Learned
from advisor.knowledge.model import PRIORS

DIGITS = 12
"""Digits of its hash by which a release is known in answers."""
OVER = "+"
"""Between the names of a shop's release and of the common one that it stands on."""


@dataclass(frozen=True)
class Rates:
    """What a release makes of the library's rates: factors by circuit and cause, and the name in answers; what else."""

    name: str = PRIORS
    factors: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    learned: Learned = field(default_factory=Learned)

    def over(self, base: Rates) -> Rates:
        """The same with another release behind it, for causes, work and instruments of which it says nothing."""
        if base.name == PRIORS:
            return self
        circuits = {*self.factors, *base.factors}
        merged = {c: {**base.factors.get(c, {}), **self.factors.get(c, {})} for c in circuits}
        return Rates(f"{self.name}{OVER}{base.name}", merged, self.learned.over(base.learned))


def named(name: str, id: str) -> str:
    """Name a release as answers do: by its name and the first digits of its hash."""
    return f"{name}@{id.removeprefix('sha256:')[:DIGITS]}"


def parts_of(priors: str) -> tuple[str, ...]:
    """Give the first digits of the hashes of the releases that an answer's priors name, none for the library's.

    >>> parts_of("north@0123456789ab+common@ba9876543210"), parts_of("handbook-1")
    (('0123456789ab', 'ba9876543210'), ())
    """
    return tuple(part.rpartition("@")[2] for part in priors.split(OVER) if "@" in part)


@dataclass(frozen=True)
class Moved:
    """A cause whose rate two releases see differently: both factors, and by what the second is the larger."""

    circuit: str
    cause: str
    before: float
    after: float

    @property
    def ratio(self) -> float:
        """The second over the first."""
        return self.after / self.before


def compared(before: Rates, after: Rates) -> tuple[Moved, ...]:
    """Give the causes that two releases see differently, those that move most first."""
    return tuple(sorted(_moved(before, after), key=lambda m: (-max(m.ratio, 1.0 / m.ratio), m.circuit, m.cause)))


def _moved(before: Rates, after: Rates) -> Iterable[Moved]:
    for circuit in {*before.factors, *after.factors}:
        one, two = before.factors.get(circuit, {}), after.factors.get(circuit, {})
        rows = (Moved(circuit, cause, one.get(cause, 1.0), two.get(cause, 1.0)) for cause in {*one, *two})
        yield from (row for row in rows if row.before != row.after)
