"""Solve one netlist for fixed switching states: DC nodal analysis, lamps and motors included.

Every source is a Norton equivalent, so the matrix holds conductances only (C.-W. Ho, A. Ruehli, P. Brennan,
"The modified nodal approach to network analysis", IEEE Trans. Circuits Syst. 22(6), 1975, without the
modification).  Lamps enter at their hot resistance, motors at their rated one; see `bent` for the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.bent import Bent
from advisor.circuit.elimination import Plan, plan, reduce_network
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
        volts: Their electromotive forces [V], shape (S, 1).
        whole: Which elements take part, E of them, and the order of elimination.
        usual: The same without the elements that conduct under some faults only.
        rest: Those elements.
    """

    netlist: Netlist
    bent: Bent
    sources: Ints
    volts: Floats
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

    def points(self, ohms: Floats, probes: Sequence[int]) -> tuple[Floats, Floats]:
        """Operating points of B sets of resistances.

        Args:
            ohms: Resistance of every element [ohm], shape (E, B).
            probes: K nodes.

        Returns:
            Node voltages [V], shape (N + 1, B), the reference last; resistance matrix of the probes [ohm], (B, K, K).
        """
        rows = ohms.shape[1]
        volts, seen = np.zeros((len(self.netlist.nodes) + 1, rows)), np.zeros((rows, len(probes), len(probes)))
        short = (ohms[self.rest] < OPEN).any(axis=0)
        if 0 < short.sum() and rows - short.sum() < _WORTH_A_SPLIT:
            short[:] = True
        for network, chosen in ((self.usual, ~short), (self.whole, short)):
            where = np.flatnonzero(chosen)
            for cut in (where[i : i + _ROWS_AT_ONCE] for i in range(0, len(where), _ROWS_AT_ONCE)):
                volts[:-1, cut], seen[cut] = self._batch(ohms[:, cut], network, probes)
        return volts, seen

    def _batch(
        self, ohms: Floats, network: tuple[Ints, Plan], probes: Sequence[int]
    ) -> tuple[Floats, Floats]:
        """One batch that fits the processor's cache."""
        elements, order = network
        reduced = reduce_network(order, 1.0 / ohms[elements], LEAK_SIEMENS)
        count, inner = len(self.bent.elements), len(self.bent.elements) + len(self.sources)
        ends = self.netlist.ends[:, np.concatenate([self.bent.elements, self.sources])]
        seen = reduced.transfer([*map(tuple, ends.T.tolist()), *((node, -1) for node in probes)])
        drives = self.volts / ohms[self.sources]
        open_volts = (seen[:, :count, count:inner] @ drives.T[:, :, None])[:, :, 0]
        extra, tangent = self.bent.settle(open_volts, seen[:, :count, :count], ohms[self.bent.elements].T)
        injected = np.zeros((len(self.netlist.nodes) + 1, ohms.shape[1]))  # the last is the reference, index -1
        for (a, b), amps in zip(ends.T, (*-extra.T, *drives), strict=True):
            injected[a] += amps
            injected[b] -= amps
        return reduced.volts(injected), _probed(seen, count, inner, tangent)


def _probed(seen: Floats, lamps: int, first: int, tangent: Floats) -> Floats:
    """Small-signal resistance matrix of the probes, corrected from the hot lamps to their tangents (Woodbury)."""
    plain, from_probe = seen[:, first:, first:], seen[:, :lamps, first:]
    if not plain.size or not from_probe.size:
        return plain
    core = np.eye(lamps) + seen[:, :lamps, :lamps] * tangent[:, None, :]
    return plain - (from_probe.transpose(0, 2, 1) * tangent[:, None, :]) @ np.linalg.solve(core, from_probe)
