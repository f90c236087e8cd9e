"""Lamps and motors in a linear network: where currents that are not proportional to their voltages settle.

The network is given with every lamp at its hot resistance, every motor at its rated one; what they draw beyond that
is found by Newton's method on the small system seen from their ends.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.circuit import lamp, motor
from advisor.circuit.netlist import BENT, Netlist
from advisor.errors import OscillationError

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

TOLERANCE_VOLTS = 1e-11
_NEWTON_STEPS = 15
_LAMP_STEPS = 200


@dataclass(frozen=True, eq=False)
class Bent:
    """The elements whose current is not proportional to their voltage, and their laws.

    Attributes:
        elements: Indices of the lamps and motors, L of them.
        turns: Which of them are motors, shape (L,).
        rated_volts: Their rated voltages [V], shape (L,).
    """

    elements: NDArray[np.intp]
    turns: Bools
    rated_volts: Floats

    @classmethod
    def of(cls, netlist: Netlist) -> Bent:
        """Find a netlist's lamps and motors."""
        elements = netlist.of_kind(*BENT)
        turns = np.array([netlist.elements[e].kind == "motor" for e in elements], dtype=bool)
        return cls(elements, turns, netlist.column("volts")[elements])

    def siemens(self, volts: Floats, ohms: Floats) -> tuple[Floats, Floats]:
        """Current over voltage, and the derivative of the current [S], shape (B, L) like the arguments."""
        chord, slope = lamp.siemens(volts, self.rated_volts, ohms)
        if self.turns.any():
            turning = motor.siemens(volts, self.rated_volts, ohms)
            chord, slope = (np.where(self.turns, *pair) for pair in zip(turning, (chord, slope), strict=True))
        return chord, slope

    def current(self, volts: Floats, ohms: Floats) -> Floats:
        """Current of each [A], shape (B, L) like the arguments."""
        return volts * self.siemens(volts, ohms)[0]

    def settle(self, open_volts: Floats, seen: Floats, hot_ohms: Floats) -> Floats:
        """Current beyond the hot or rated resistance's where they settle [A], shape (B, L).

        Solves V = V0 - Z (I(V) - V/R) by Newton's method; where that has not converged, by the chord
        I(V)/V, which contracts (the log-slope of a lamp's resistance is 0.45, of a motor's between -1 and 0).

        Args:
            open_volts: V0, shape (B, L).
            seen: Z [ohm], shape (B, L, L).
            hot_ohms: R, shape (B, L).

        Raises:
            OscillationError: nothing was found.
        """
        extra = np.zeros_like(open_volts)
        rows, volts, eye = np.arange(len(open_volts)), open_volts, np.eye(open_volts.shape[1])
        for step in range(_LAMP_STEPS):
            chord, slope = (found - 1.0 / hot_ohms for found in self.siemens(volts, hot_ohms))
            extra[rows] = volts * chord
            residual = volts - open_volts + _times(seen, volts * chord)
            left = np.abs(residual).max(axis=1, initial=0.0) > TOLERANCE_VOLTS
            if not left.any():
                return extra
            rows, volts, open_volts, hot_ohms, seen = (x[left] for x in (rows, volts, open_volts, hot_ohms, seen))
            if step < _NEWTON_STEPS:
                volts = volts - _solved(eye + seen * slope[left, None], residual[left])
            else:
                volts = _solved(eye + seen * chord[left, None], open_volts)
        raise OscillationError("a lamp's or motor's operating point was not found", [f"{len(rows)} fault sets"])


def _times(matrices: Floats, vectors: Floats) -> Floats:
    result: Floats = (matrices @ vectors[:, :, None])[:, :, 0]
    return result


def _solved(matrices: Floats, vectors: Floats) -> Floats:
    result: Floats = np.linalg.solve(matrices, vectors[:, :, None])[:, :, 0]
    return result
