"""Lamps and motors in a linear network: where currents that are not proportional to their voltages settle.

The network is given with every lamp at its hot resistance, every motor at its rated one; what they draw beyond that
is found by Newton's method on the small system seen from their ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from advisor.circuit import lamp, motor
from advisor.circuit.netlist import BENT, Netlist
from advisor.errors import OscillationError

Floats = NDArray[np.float64]

TOLERANCE_VOLTS = 1e-11
_LAWS = {"lamp": lamp.siemens, "motor": motor.siemens, "winch": motor.pulling_siemens}
"""Current over voltage and slope of each kind."""
_NEWTON_STEPS = 15
_LAMP_STEPS = 200


@dataclass(frozen=True, eq=False)
class Bent:
    """The elements whose current is not proportional to their voltage, and their laws.

    Attributes:
        elements: Indices of the lamps, then of the motors and the winches, L of them.
        counts: How many there are of each kind, in the order of `BENT`.
        rated_volts: Their rated voltages [V], shape (L, 1).
    """

    elements: NDArray[np.intp]
    counts: tuple[int, ...]
    rated_volts: Floats

    @classmethod
    def of(cls, netlist: Netlist) -> Bent:
        """Find a netlist's lamps and motors."""
        found = [netlist.of_kind(kind) for kind in BENT]
        elements = np.concatenate(found)
        return cls(elements, tuple(map(len, found)), netlist.column("volts")[elements, None])

    def siemens(self, volts: Floats, ohms: Floats) -> tuple[Floats, Floats]:
        """Current over voltage, and the derivative of the current [S], shape (L, B) like the arguments."""
        edges = np.cumsum([0, *self.counts])
        found = [
            _LAWS[kind](volts[a:b], self.rated_volts[a:b], ohms[a:b])
            for kind, (a, b) in zip(BENT, pairwise(edges), strict=True)
            if a < b
        ]
        if not found:
            return np.zeros_like(volts), np.zeros_like(volts)
        return np.concatenate([chord for chord, _ in found]), np.concatenate([slope for _, slope in found])

    def settle(self, open_volts: Floats, seen: Floats, hot_ohms: Floats) -> Floats:
        """Current beyond the hot or rated resistance's where they settle [A], shape (L, B).

        Solves V = V0 - Z (I(V) - V/R) by Newton's method; where that has not converged, by the chord
        I(V)/V, which contracts: the log-slope of a lamp's resistance is 0.45, of a fan's in -1 to 0, of a winch's in
        0 to 1.

        Args:
            open_volts: V0, shape (L, B).
            seen: Z [ohm], shape (L, L, B).
            hot_ohms: R, shape (L, B).

        Raises:
            OscillationError: nothing was found.
        """
        extra, rows, volts = np.zeros_like(open_volts), np.arange(open_volts.shape[1]), open_volts
        for step in range(_LAMP_STEPS):
            chord, slope = (found - 1.0 / hot_ohms for found in self.siemens(volts, hot_ohms))
            amps = volts * chord
            extra[:, rows] = amps
            residual = volts - open_volts + (seen * amps).sum(axis=1)
            left = np.flatnonzero(np.abs(residual).max(axis=0, initial=0.0) > TOLERANCE_VOLTS)
            if not len(left):
                return extra
            volts, open_volts, hot_ohms, residual, chord, slope = (
                x[:, left] for x in (volts, open_volts, hot_ohms, residual, chord, slope)
            )
            rows, seen = rows[left], seen[:, :, left]
            if step < _NEWTON_STEPS:
                volts = volts - solved(_one_plus(seen * slope), residual)
            else:
                volts = solved(_one_plus(seen * chord), open_volts)
        raise OscillationError("a lamp's or motor's operating point was not found", [f"{len(rows)} fault sets"])


def _one_plus(matrices: Floats) -> Floats:
    matrices[np.diag_indices(len(matrices))] += 1.0
    return matrices


def solved(matrices: Floats, right: Floats) -> Floats:
    """Solve small systems by Gaussian elimination, shapes (L, L, B) and (L, B); the first argument is used up.

    No pivots are sought: of 1 + Z D, with D what the elements conduct beyond what Z holds, each is what the network
    and some elements conduct over what it conducted before, so it is positive.
    """
    result = right.copy()
    for k in range(len(result)):
        factor = matrices[k + 1 :, k] / matrices[k, k]
        matrices[k + 1 :, k + 1 :] -= factor[:, None] * matrices[k, k + 1 :]
        result[k + 1 :] -= factor * result[k]
    for k in reversed(range(len(result))):
        result[k] -= (matrices[k, k + 1 :] * result[k + 1 :]).sum(axis=0)
        result[k] /= matrices[k, k]
    return result
