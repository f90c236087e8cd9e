"""A discrete network as values: each variable with its states, its parents, and its chances given them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from advisor.network.worlds import TOLERANCE, Floats


@dataclass(frozen=True, eq=False)
class Family:
    """A variable whose chances are written out.

    Attributes:
        name: Of the variable.
        states: Its states, D of them.
        parents: Names of its parents.
        table: P(state | parents), one axis for each parent in order, the variable's own last.
    """

    name: str
    states: tuple[str, ...]
    parents: tuple[str, ...]
    table: Floats

    def problems(self, cards: Mapping[str, int]) -> Iterator[str]:
        """What is wrong with the table, given the number of states of every variable."""
        shape = (*(cards[parent] for parent in self.parents), len(self.states))
        if self.table.shape != shape:
            yield f"{self.name}: the table has the shape {self.table.shape}, expected {shape}"
        elif not ((self.table >= 0.0) & (self.table <= 1.0)).all():  # NaN fails it
            yield f"{self.name}: a chance is not between 0 and 1"
        elif (off := float(np.abs(self.table.sum(axis=-1) - 1.0).max())) > TOLERANCE:
            yield f"{self.name}: the chances given one row of parents miss 1 by {off:.3g}"


@dataclass(frozen=True, eq=False)
class NoisyMax:
    """A variable that shows the latest of what its leak and each of its parents pick by themselves.

    P(Y <= y | parents) = L(y) prod C_i(y | x_i) with cumulated chances; noisy-OR for two states.  The leak stands
    beside the parents ("net": F. Diez, "Parameter adjustment in Bayes networks: the generalized noisy OR-gate", 1993).
    No table of all parents together is made, whatever their number.

    Attributes:
        name: Of the variable.
        states: Its D states in their order; the last one wins.
        parents: Names of its n parents.
        leak: P(state) without any of them, shape (D,).
        links: P(state | state of the parent, nothing else there) of each parent, shape (states of the parent, D).
    """

    name: str
    states: tuple[str, ...]
    parents: tuple[str, ...]
    leak: Floats
    links: tuple[Floats, ...]

    def problems(self, cards: Mapping[str, int]) -> Iterator[str]:
        """What is wrong with its links, given the number of states of every variable."""
        if len(self.links) != len(self.parents):
            yield f"{self.name}: {len(self.links)} links for {len(self.parents)} parents"
            return
        yield from Family(f"{self.name}, leak", self.states, (), self.leak).problems({})
        for parent, link in zip(self.parents, self.links, strict=True):
            yield from Family(f"{self.name}, link of {parent}", self.states, (parent,), link).problems(cards)

    def families(self) -> Iterator[Family]:
        """The same as a chain of families of two parents at most: each step takes the later of two.

        Every number stays positive, so that what cannot be has probability zero and not a rounding of it.
        """
        before, chances = "", self.leak
        if not self.parents:
            yield Family(self.name, self.states, (), chances)
        for number, (parent, link) in enumerate(zip(self.parents, self.links, strict=True), 1):
            name = self.name if number == len(self.parents) else f"{self.name} after {number} of {len(self.parents)}"
            above = (before, parent) if before else (parent,)
            start = np.eye(len(self.states)) if before else chances
            yield Family(name, self.states, above, _later(start, link))
            before = name


def _later(first: Floats, link: Floats) -> Floats:
    """P(the later of two picks), shape (..., X, D), of one by `first`, (..., D), and one by `link`, (X, D)."""
    below = np.cumsum(first, axis=-1)[..., None, :] * np.cumsum(link, axis=-1)
    below /= below[..., -1:]
    return np.maximum(np.diff(below, axis=-1, prepend=0.0), 0.0)


@dataclass(frozen=True, eq=False)
class Discrete:
    """A discrete network; what exists is whole.

    Attributes:
        families: Of every variable, in any order.
    """

    families: tuple[Family | NoisyMax, ...]

    def __post_init__(self) -> None:
        found = [what for _, what in problems(self.families)]
        if found:
            raise ValueError("; ".join(found))

    @cached_property
    def by_name(self) -> Mapping[str, Family | NoisyMax]:
        """Every family by its variable."""
        return {family.name: family for family in self.families}

    @cached_property
    def cards(self) -> Mapping[str, int]:
        """Number of states of every variable."""
        return {family.name: len(family.states) for family in self.families}

    def tables(self) -> list[Family]:
        """All families written out, each noisy-MAX as its chain."""
        return [
            step for family in self.families for step in ([family] if isinstance(family, Family) else family.families())
        ]


def problems(families: Sequence[Family | NoisyMax]) -> Iterator[tuple[str, str]]:
    """What is wrong with some families as a network: the variable, and what."""
    cards: dict[str, int] = {}
    for family in families:
        if family.name in cards:
            yield family.name, f"{family.name}: a second variable of this name"
        cards[family.name] = len(family.states)
        if len(set(family.states)) != len(family.states):
            yield family.name, f"{family.name}: two states of one name"
        if not family.states:
            yield family.name, f"{family.name}: no states"
    linked = True
    for family in families:
        unknown = [parent for parent in family.parents if parent not in cards]
        linked = linked and not unknown
        yield from ((family.name, f"{family.name}: unknown parent {parent}") for parent in unknown)
        if len(set(family.parents)) != len(family.parents):
            yield family.name, f"{family.name}: one parent twice"
        elif not unknown:
            yield from ((family.name, what) for what in family.problems(cards))
    if linked and (ring := _ring(families)):
        yield ring[0], f"{ring[0]}: its own ancestor, by {' -> '.join(ring)}"


def _ring(families: Sequence[Family | NoisyMax]) -> list[str]:
    """Variables that cannot be put in an order of parents first, one ring of them; empty where there is none."""
    waiting = {family.name: set(family.parents) for family in families}
    while free := [name for name, above in waiting.items() if not above & waiting.keys()]:
        for name in free:
            del waiting[name]
    if not waiting:
        return []
    trail = [min(waiting)]
    while trail[-1] not in trail[:-1]:
        trail.append(min(waiting[trail[-1]] & waiting.keys()))
    return trail[trail.index(trail[-1]) :][::-1]
