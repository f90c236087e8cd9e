"""Solve one netlist for fixed switching states: DC nodal analysis, lamps and motors included.

Every source is a Norton equivalent, so the matrix holds conductances only (C.-W. Ho, A. Ruehli, P. Brennan,
"The modified nodal approach to network analysis", IEEE Trans. Circuits Syst. 22(6), 1975, without the
modification).  Lamps enter at their hot resistance, motors at their rated one; see `bent` for the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.bent import Bent
from advisor.circuit.elimination import Plan, Reduced, plan, reduce_network
from advisor.circuit.netlist import OPEN, Netlist

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

LEAK_SIEMENS = 1e-9
"""Conductance from every node to the reference: insulation is not perfect.  Common practice, no source."""
_ROWS_AT_ONCE = 1024
_WORTH_A_SPLIT = 500
"""Rows without a short from which on it pays to solve them apart, without the paths that only shorts open."""


def forces(netlist: Netlist) -> Floats:
    """Electromotive force of every element [V]; lamps and motors carry their rated voltage there, which is none."""
    return np.array([e.volts if e.kind == "source" else 0.0 for e in netlist.elements])


@dataclass(frozen=True, eq=False)
class Fixed:
    """A netlist of N nodes and E elements, prepared once.

    Attributes:
        netlist: What is solved.
        bent: Its lamps and motors.
        sources: Indices of its sources.
        forces: Their electromotive forces [V], shape (S, 1).
        whole: Which elements take part, E of them, and the order of elimination.
        usual: The same without the elements that conduct under some faults only.
        rest: Those elements.
    """

    netlist: Netlist
    bent: Bent
    sources: Ints
    forces: Floats
    whole: tuple[Ints, Plan]
    usual: tuple[Ints, Plan]
    rest: Ints

    @classmethod
    @lru_cache(maxsize=256)
    def of(cls, netlist: Netlist) -> Fixed:
        """Find what takes part."""
        volts, closed = forces(netlist), netlist.column("ohms") < OPEN
        sources, ends = np.flatnonzero(volts), [(int(a), int(b)) for a, b in netlist.ends.T]

        def among(elements: Ints) -> tuple[Ints, Plan]:
            """The order of elimination if only some elements conduct."""
            return elements, plan(len(netlist.nodes), tuple(ends[e] for e in elements))

        whole, usual = among(np.arange(len(closed))), among(np.flatnonzero(closed))
        return cls(netlist, Bent.of(netlist), sources, volts[sources, None], whole, usual, np.flatnonzero(~closed))

    def volts(self, ohms: Floats) -> Floats:
        """Node voltages [V], shape (N + 1, B), the reference last, for B sets of resistances [ohm], shape (E, B)."""
        result = np.zeros((len(self.netlist.nodes) + 1, ohms.shape[1]))
        for rows, elements, order in self._batches(ohms):
            part = ohms.take(rows, axis=1)
            result[:-1, rows] = self._batch_volts(_reduced(part, elements, order), part)
        return result

    def resistances(self, ohms: Floats, volts: Floats, ports: Sequence[tuple[int, int]]) -> Floats:
        """Small-signal resistance matrix of K pairs of nodes [ohm], shape (B, K, K).

        Args:
            ohms: Resistance of every element [ohm], shape (E, B).
            volts: Operating points [V], shape (N + 1, B).
            ports: The pairs; -1 is the reference.
        """
        result = np.zeros((ohms.shape[1], len(ports), len(ports)))
        a, b = self.netlist.ends[:, self.bent.elements]
        for rows, elements, order in self._batches(ohms):
            part = ohms.take(rows, axis=1)
            seen = _reduced(part, elements, order).transfer([*zip(a.tolist(), b.tolist(), strict=True), *ports])
            across, hot_ohms = (volts[a] - volts[b])[:, rows], part[self.bent.elements]
            tangent = self.bent.siemens(across, hot_ohms)[1] - 1.0 / hot_ohms
            result[rows] = _probed(seen, len(a), tangent.T)
        return result

    def _batches(self, ohms: Floats) -> Iterator[tuple[Ints, Ints, Plan]]:
        """Rows that fit the processor's cache at once, the elements that take part in them, and their order."""
        short = np.any(ohms[self.rest] < OPEN, axis=0)
        if short.any() and np.count_nonzero(~short) < _WORTH_A_SPLIT:
            short = np.ones_like(short)
        for network, chosen in ((self.usual, ~short), (self.whole, short)):
            where = np.flatnonzero(chosen)
            for start in range(0, len(where), _ROWS_AT_ONCE):
                yield where[start : start + _ROWS_AT_ONCE], *network

    def _batch_volts(self, reduced: Reduced, ohms: Floats) -> Floats:
        count = len(self.bent.elements)
        ends = self.netlist.ends[:, np.concatenate([self.bent.elements, self.sources])]
        seen = reduced.transfer(list(zip(*ends.tolist(), strict=True)))
        drives = self.forces / ohms[self.sources]
        by_row = np.ascontiguousarray(seen.transpose(1, 2, 0))
        open_volts = (by_row[:count, count:] * drives).sum(axis=1)
        extra = self.bent.settle(open_volts, by_row[:count, :count], ohms[self.bent.elements])
        injected = np.zeros((len(self.netlist.nodes) + 1, ohms.shape[1]))  # the last is the reference, index -1
        for (a, b), amps in zip(ends.T, (*-extra, *drives), strict=True):
            injected[a] += amps
            injected[b] -= amps
        return reduced.volts(injected)


def _reduced(ohms: Floats, elements: Ints, order: Plan) -> Reduced:
    return reduce_network(order, 1.0 / ohms[elements], LEAK_SIEMENS)


def _probed(seen: Floats, lamps: int, tangent: Floats) -> Floats:
    """Resistance matrix of the ports after the lamps, corrected from hot lamps to their tangents (Woodbury)."""
    plain, from_probe = seen[:, lamps:, lamps:], seen[:, :lamps, lamps:]
    if not plain.size or not from_probe.size:
        return plain
    core = np.eye(lamps) + seen[:, :lamps, :lamps] * tangent[:, None, :]
    return plain - (from_probe.transpose(0, 2, 1) * tangent[:, None, :]) @ np.linalg.solve(core, from_probe)
