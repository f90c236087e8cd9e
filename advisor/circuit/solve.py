"""Solve one netlist for many fault sets at once: the fixed point of what switches, drivers, relays and fuses."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.circuit import lamp
from advisor.circuit.bent import Bent
from advisor.circuit.faults import Faults
from advisor.circuit.fixed import LEAK_SIEMENS, Fixed, forces
from advisor.circuit.netlist import ROTOR, Change, Netlist
from advisor.circuit.switching import FUSE_OPENS_ABOVE, Switching
from advisor.errors import OscillationError

__all__ = ["FUSE_OPENS_ABOVE", "LEAK_SIEMENS", "Solution", "solve"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

Probe = str | tuple[str, str]
"""A node, seen from the reference, or a pair of nodes."""

_ROUNDS = 60
_SETTLED_BY = 6
"""Times that a circuit's drivers may switch before they count as never settling; opening fuses do not count."""


@dataclass(frozen=True)
class Solution:
    """Operating points of one netlist, one row per fault set.

    Attributes:
        netlist: What was solved.
        volts: Node voltages [V], shape (B, N).
        ohms: Resistance of every element in its final state [ohm], shape (B, E); as in `Element`.
        on: Which drivers are on, shape (B, D) in netlist order.
        blown: Which fuses have opened, shape (B, F) in netlist order.
        unsteady: Where a fault keeps a driver switching on and off; shown with that driver off, shape (B,).
        probes: Nodes, or pairs of nodes, whose K output resistances are wanted; `probed` sets them.
    """

    netlist: Netlist
    volts: Floats
    ohms: Floats
    on: Bools
    blown: Bools
    unsteady: Bools
    probes: tuple[Probe, ...] = ()

    def at(self, node: str) -> Floats:
        """Voltage of one node to the reference [V], shape (B,)."""
        index = self.netlist.node_index[node]
        return np.zeros(len(self.volts)) if index < 0 else self.volts[:, index]

    def probed(self, probes: Iterable[Probe]) -> Solution:
        """The same operating points, seen by instruments between some pairs, or from some nodes to the reference."""
        reference = self.netlist.reference
        return replace(self, probes=tuple(dict.fromkeys(p for p in probes if p != reference)))

    @cached_property
    def resistances(self) -> Floats:
        """Open-circuit resistance matrix of the probes [ohm], shape (B, K, K)."""
        index, reference = self.netlist.node_index, self.netlist.reference
        pairs = [(probe, reference) if isinstance(probe, str) else probe for probe in self.probes]
        ports = [(index[red], index[black]) for red, black in pairs]
        return Fixed.of(self.netlist).resistances(self.ohms.T, np.pad(self.volts.T, ((0, 1), (0, 0))), ports)

    def between(self, red: str, black: str) -> tuple[Floats, Floats]:
        """Open-circuit voltage [V] and output resistance [ohm] between a probed pair or two probed nodes, (B,) each."""
        volts = self.at(red) - self.at(black)
        if (red, black) in self.probes:
            pair = self.probes.index((red, black))
            return volts, self.resistances[:, pair, pair]
        r, b = (None if n == self.netlist.reference else self.probes.index(n) for n in (red, black))

        def ohms(i: int | None, k: int | None) -> Floats | float:
            """The reference is at zero whatever flows."""
            return 0.0 if i is None or k is None else self.resistances[:, i, k]

        return volts, np.zeros(len(self.volts)) + ohms(r, r) + ohms(b, b) - 2.0 * ohms(r, b)

    @cached_property
    def drops(self) -> Floats:
        """Voltage across every element, a to b [V], shape (B, E)."""
        padded = np.pad(self.volts, ((0, 0), (0, 1)))  # index -1 is the reference
        a, b = self.netlist.ends
        return padded[:, a] - padded[:, b]

    @cached_property
    def currents(self) -> Floats:
        """Current through every element, a to b [A], shape (B, E)."""
        result = (self.drops - forces(self.netlist)) / self.ohms
        bent = Bent.of(self.netlist)
        volts, ohms = self.drops.T[bent.elements], self.ohms.T[bent.elements]
        result[:, bent.elements] = (volts * bent.siemens(volts, ohms)[0]).T
        return result

    def shown(self, load: str, reference_volts: float) -> Floats:
        """What a load does as a share of the usual, shape (B,): a lamp's light, a motor's speed, another's power.

        A motor's usual is its rated speed, the others' what they do at `reference_volts` [V].  Of what counts charge it
        is what leaves the battery, to its own post, as a share of the rated current; charging takes nothing out.  What
        counts gassing is drawn the other way round.
        """
        rotor = self.netlist.element_index.get(load + ROTOR)
        if rotor is not None:
            return np.abs(self.drops[:, rotor]) / self.netlist.elements[rotor].volts
        index = self.netlist.element_index[load]
        if self.netlist.elements[index].kind == "lamp":
            return self.light(load, reference_volts)
        if self.netlist.elements[index].kind == "conductor" and np.isfinite(self.netlist.elements[index].amps):
            return np.maximum(-self.currents[:, index], 0.0) / self.netlist.elements[index].amps
        watts: Floats = self.drops[:, index] * self.currents[:, index]
        return watts / (reference_volts**2 / self.netlist.elements[index].ohms)

    def light(self, element: str, reference_volts: float) -> Floats:
        """Light of a lamp as a share of a sound one at `reference_volts` [V], shape (B,)."""
        index = self.netlist.element_index[element]
        part = self.netlist.elements[index]
        volts, ohms = np.array([reference_volts]), np.array([part.ohms])
        reference_watts = reference_volts * lamp.current(volts, np.array([part.volts]), ohms)
        return lamp.light(self.drops[:, index] * self.currents[:, index], reference_watts)


def solve(
    netlist: Netlist,
    faults: Sequence[Sequence[Change]] | Faults,
    probes: Iterable[Probe] = (),
    *,
    blown: Bools | None = None,
) -> Solution:
    """Find the operating point under every fault set.

    Drivers start as they are in the sound circuit: where a fault leaves two stable states (a unit that has lost
    its ground and holds itself up through its own output), the one reached from a working circuit is given.  A relay
    that holds itself, and a diode, start from rest, as nothing says that it was pulled in before the fault came.

    Args:
        netlist: A grounded netlist of N nodes and E elements.
        faults: B lists of changes; an empty list is the sound circuit.
        probes: Where instruments may be put: pairs of nodes, or nodes; the reference needs no mention.
        blown: Fuses that had opened before, shape (B, F) in netlist order; they stay open.

    Raises:
        OscillationError: the sound circuit's switching never settles; the drivers are named.  Under a fault
            it may: a unit on a bad ground resets itself over and over.  Such rows are marked unsteady.
    """
    sets = faults if isinstance(faults, Faults) else Faults.of(faults)
    fuses, start = len(Switching.of(netlist).fuses), _sound(netlist).copy()
    start[netlist.holding] = False
    before = np.zeros((fuses, sets.count), bool) if blown is None else blown.T
    closed = sets.applied(netlist.column("ohms"))
    return _settle(netlist, closed, before, np.repeat(start, sets.count, axis=1)).probed(probes)


@lru_cache(maxsize=256)
def _sound(netlist: Netlist) -> Bools:
    """Which drivers are on in the sound circuit, shape (D, 1)."""
    switching = Switching.of(netlist)
    off, whole = (np.zeros((len(found), 1), bool) for found in (switching.drivers, switching.fuses))
    sound = _settle(netlist, netlist.column("ohms")[:, None], whole, off)
    if sound.unsteady.any():
        raise OscillationError("the switching logic of the sound circuit never settles", _chatter(netlist))
    return sound.on.T


def _chatter(netlist: Netlist) -> list[str]:
    relays = [f"{relay.id}: its contacts, once switched, move the voltage of its own coil" for relay in netlist.relays]
    return relays + [
        f"{unit.id}: switching {output.driver} moves an input or the supply of the unit that switches it"
        for unit in netlist.units
        for output in unit.outputs
    ]


def _settle(netlist: Netlist, closed: Floats, before: Bools, start: Bools) -> Solution:
    """Iterate drivers, then fuses one at a time, until nothing switches; only rows that switched are solved again."""
    switching, fixed, rows = Switching.of(netlist), Fixed.of(netlist), closed.shape[1]
    on, last, blown, ohms = start.copy(), start.copy(), before.copy(), closed
    volts = np.zeros((len(netlist.nodes) + 1, rows))
    active, turns, unsteady = np.arange(rows), np.zeros(rows, int), np.zeros(rows, bool)
    for _ in range(_ROUNDS + len(switching.fuses)):
        was = on[:, active]
        state = switching.ohms(closed.take(active, axis=1), was, blown[:, active])
        found = fixed.volts(state)
        if len(active) == rows:
            volts, ohms = found, state
        else:
            volts[:, active], ohms[:, active] = found, state
        wanted = switching.wanted(found, state, was)
        late = turns[active] >= _SETTLED_BY  # what still switches is held off, so that the rest can settle
        unsteady[active] |= late & (wanted != was).any(axis=0)
        wanted &= was | ~late
        switched = (wanted != was).any(axis=0)
        again = switched & (wanted == last[:, active]).all(axis=0)  # to and fro, as it will go on until it is late
        turns[active] += switched + again * np.maximum(_SETTLED_BY - 1 - turns[active], 0) // 2 * 2
        on[:, active], last[:, active] = wanted, was
        overloaded = switching.worst_fuse(found, state) & ~switched
        blown[:, active] |= overloaded
        active = active[switched | overloaded.any(axis=0)]
        if not len(active):
            return Solution(netlist, volts[:-1].T, ohms.T, on.T, blown.T, unsteady)
    raise OscillationError("the switching logic never settles", _chatter(netlist))
