"""Fault sets as arrays: what each does to the elements' resistances, ready for many setups of one circuit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.netlist import Change

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Faults:
    """B fault sets; `turns` are the first changes of all sets, then the second ones: rows, elements, factors, terms."""

    count: int
    turns: tuple[tuple[Ints, Ints, Floats, Floats], ...]

    @classmethod
    def of(cls, sets: Sequence[Sequence[Change]]) -> Faults:
        """Sort changes by their turn: those of one set follow each other."""
        turns = []
        for changes in zip_longest(*sets):
            rows = [row for row, change in enumerate(changes) if change]
            made = [change for change in changes if change]
            factors = [{"add": 1.0, "scale": c.value, "set": 0.0}[c.kind] for c in made]
            terms = [0.0 if c.kind == "scale" else c.value for c in made]
            turns.append((np.array(rows), np.array([c.element for c in made]), np.array(factors), np.array(terms)))
        return cls(len(sets), tuple(turns))

    def applied(self, ohms: Floats) -> Floats:
        """Resistance of every element under every fault set [ohm], shape (E, B), from that of the sound ones, (E,)."""
        faulted = np.repeat(ohms[:, None], self.count, axis=1)
        for rows, elements, factors, terms in self.turns:
            kept = np.where(factors > 0.0, faulted[elements, rows], 0.0)  # what is set may have been infinite
            faulted[elements, rows] = kept * np.where(factors > 0.0, factors, 1.0) + terms
        return faulted
