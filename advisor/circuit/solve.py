"""Solve one netlist for many fault sets at once: DC nodal analysis with switching states as a fixed point.

Every source is a Norton equivalent, so the matrix holds conductances only (C.-W. Ho, A. Ruehli, P. Brennan,
"The modified nodal approach to network analysis", IEEE Trans. Circuits Syst. 22(6), 1975, without the
modification).  Lamps enter at their hot resistance, motors at their rated one; what they draw beyond that is found
by Newton's method on the small system seen from the ends of these bent elements.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.circuit import lamp, motor
from advisor.circuit.elimination import reduce_network
from advisor.circuit.netlist import BENT, OPEN, ROTOR, Change, Netlist
from advisor.errors import OscillationError

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEAK_SIEMENS = 1e-9
"""Conductance from every node to the reference: insulation is not perfect.  Common practice, no source."""
FUSE_OPENS_ABOVE = 1.35
"""Multiple of the rating at which a blade fuse opens within minutes (ISO 8820-3: 135 %, at most 1800 s)."""
LAMP_TOLERANCE_VOLTS = 1e-9
_NEWTON_STEPS = 15
_LAMP_STEPS = 200
_ROUNDS = 60
_SETTLED_BY = 6
"""Times that a circuit's drivers may switch before they count as never settling; opening fuses do not count."""
_ROWS_AT_ONCE = 1024
_ALIKE = 1e-6
"""Two fuses in series that differ by less carry the same; the first one of the netlist opens, and saves the other."""


@dataclass(frozen=True)
class _Bent:
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
    def of(cls, netlist: Netlist) -> _Bent:
        """Find a netlist's lamps and motors."""
        elements = netlist.of_kind(*BENT)
        turns = np.array([netlist.elements[e].kind == "motor" for e in elements], dtype=bool)
        return cls(elements, turns, netlist.column("volts")[elements])

    def current(self, volts: Floats, ohms: Floats) -> Floats:
        """Current of each [A], shape (B, L) like the arguments."""
        lit = lamp.current(volts, self.rated_volts, ohms)
        return np.where(self.turns, motor.current(volts, self.rated_volts, ohms), lit) if self.turns.any() else lit

    def slope(self, volts: Floats, ohms: Floats) -> Floats:
        """Derivative of each current [S], shape (B, L)."""
        lit = lamp.slope(volts, self.rated_volts, ohms)
        return np.where(self.turns, motor.slope(volts, self.rated_volts, ohms), lit) if self.turns.any() else lit


@dataclass(frozen=True)
class Solution:
    """Operating points of one netlist, one row per fault set.

    Attributes:
        netlist: What was solved.
        volts: Node voltages [V], shape (B, N).
        ohms: Resistance of every element in its final state [ohm], shape (B, E); as in `Element`.
        probes: Nodes whose output resistances are known.
        resistances: Open-circuit resistance matrix of the probes [ohm], shape (B, K, K).
        on: Which drivers are on, shape (B, D) in netlist order.
        blown: Which fuses have opened, shape (B, F) in netlist order.
        unsteady: Where a fault keeps a driver switching on and off; shown with that driver off, shape (B,).
    """

    netlist: Netlist
    volts: Floats
    ohms: Floats
    probes: tuple[str, ...]
    resistances: Floats
    on: Bools
    blown: Bools
    unsteady: Bools

    def at(self, node: str) -> Floats:
        """Voltage of one node to the reference [V], shape (B,)."""
        index = self.netlist.node_index[node]
        return np.zeros(len(self.volts)) if index < 0 else self.volts[:, index]

    def between(self, red: str, black: str) -> tuple[Floats, Floats]:
        """Open-circuit voltage [V] and output resistance [ohm] between two probed nodes, shape (B,) each."""
        r, b = (None if n == self.netlist.reference else self.probes.index(n) for n in (red, black))

        def ohms(i: int | None, k: int | None) -> Floats | float:
            """The reference is at zero whatever flows."""
            return 0.0 if i is None or k is None else self.resistances[:, i, k]

        resistance = np.zeros(len(self.volts)) + ohms(r, r) + ohms(b, b) - 2.0 * ohms(r, b)
        return self.at(red) - self.at(black), resistance

    @cached_property
    def drops(self) -> Floats:
        """Voltage across every element, a to b [V], shape (B, E)."""
        padded = np.pad(self.volts, ((0, 0), (0, 1)))  # index -1 is the reference
        a, b = self.netlist.ends
        return padded[:, a] - padded[:, b]

    @cached_property
    def currents(self) -> Floats:
        """Current through every element, a to b [A], shape (B, E)."""
        result = (self.drops - _forces(self.netlist)) / self.ohms
        bent = _Bent.of(self.netlist)
        result[:, bent.elements] = bent.current(self.drops[:, bent.elements], self.ohms[:, bent.elements])
        return result

    def shown(self, load: str, reference_volts: float) -> Floats:
        """What a person sees or hears of a lamp or motor, shape (B,): its light, or its speed as a share of rated."""
        rotor = self.netlist.element_index.get(load + ROTOR)
        if rotor is None:
            return self.light(load, reference_volts)
        return np.abs(self.drops[:, rotor]) / self.netlist.elements[rotor].volts

    def light(self, element: str, reference_volts: float) -> Floats:
        """Light of a lamp as a share of a sound one at `reference_volts` [V], shape (B,)."""
        index = self.netlist.element_index[element]
        part = self.netlist.elements[index]
        volts, ohms = np.array([reference_volts]), np.array([part.ohms])
        reference_watts = reference_volts * lamp.current(volts, np.array([part.volts]), ohms)
        return lamp.light(self.drops[:, index] * self.currents[:, index], reference_watts)


def solve(
    netlist: Netlist,
    faults: Sequence[Sequence[Change]],
    probes: Sequence[str] = (),
    *,
    blown: Bools | None = None,
) -> Solution:
    """Find the operating point under every fault set.

    Drivers start as they are in the sound circuit: where a fault leaves two stable states (a unit that has lost
    its ground and holds itself up through its own output), the one reached from a working circuit is given.

    Args:
        netlist: A grounded netlist of N nodes and E elements.
        faults: B lists of changes; an empty list is the sound circuit.
        probes: K nodes between which instruments may be put; the reference needs no mention.
        blown: Fuses that had opened before, shape (B, F) in netlist order; they stay open.

    Raises:
        OscillationError: the sound circuit's switching never settles; the drivers are named.  Under a fault
            it may: a unit on a bad ground resets itself over and over.  Such rows are marked unsteady.
    """
    probes = tuple(dict.fromkeys(p for p in probes if p != netlist.reference))
    before = np.zeros((len(faults), len(netlist.of_kind("fuse"))), bool) if blown is None else blown
    sound = _settle(netlist, faulted_ohms(netlist, [()]), np.zeros((1, before.shape[1]), bool), None, ())
    if sound.unsteady.any():
        raise OscillationError("the switching logic of the sound circuit never settles", _chatter(netlist))
    return _settle(netlist, faulted_ohms(netlist, faults), before, sound.on, probes)


def _chatter(netlist: Netlist) -> list[str]:
    relays = [f"{relay.id}: its contacts, once switched, move the voltage of its own coil" for relay in netlist.relays]
    return relays + [
        f"{unit.id}: switching {output.driver} moves an input or the supply of the unit that switches it"
        for unit in netlist.units
        for output in unit.outputs
    ]


def faulted_ohms(netlist: Netlist, faults: Sequence[Sequence[Change]]) -> Floats:
    """Resistance of every element under every fault set [ohm], shape (B, E)."""
    ohms = np.tile(netlist.column("ohms"), (len(faults), 1))
    for row, changes in zip(ohms, faults, strict=True):
        for change in changes:
            if change.kind == "add":
                row[change.element] += change.value
            elif change.kind == "scale":
                row[change.element] *= change.value
            else:
                row[change.element] = change.value
    return ohms


def _settle(netlist: Netlist, ohms: Floats, before: Bools, start: Bools | None, probes: tuple[str, ...]) -> Solution:
    """Iterate drivers, then fuses one at a time, until nothing switches; only rows that switched are solved again."""
    drivers, fuses = netlist.of_kind("driver"), netlist.of_kind("fuse")
    columns = [netlist.node_index[p] for p in probes]
    rows, nodes = len(ohms), len(netlist.nodes)
    on = np.zeros((rows, len(drivers)), bool) if start is None else np.repeat(start, rows, axis=0)
    blown, unsteady = before.copy(), np.zeros(rows, bool)
    volts, resistances = np.zeros((rows, nodes)), np.zeros((rows, len(probes), len(probes)))
    active, turns = np.arange(rows), np.zeros(rows, int)
    for _ in range(_ROUNDS + len(fuses)):
        state = _switched(ohms[active], drivers, on[active], fuses, blown[active])
        volts[active], resistances[active] = _linear(netlist, state, columns)
        wanted = _wanted(netlist, volts[active], state, drivers)
        late = turns[active] >= _SETTLED_BY  # what still switches is held off, so that the rest can settle
        unsteady[active] |= late & (wanted != on[active]).any(axis=1)
        wanted &= on[active] | ~late[:, None]
        switched = (wanted != on[active]).any(axis=1)
        turns[active] += switched
        on[active] = wanted
        overloaded = _worst_fuse(netlist, volts[active], state, fuses) & ~switched[:, None]
        blown[active] |= overloaded
        active = active[switched | overloaded.any(axis=1)]
        if not len(active):
            final = _switched(ohms, drivers, on, fuses, blown)
            return Solution(netlist, volts, final, probes, resistances, on, blown, unsteady)
    raise OscillationError("the switching logic never settles", _chatter(netlist))


def _switched(ohms: Floats, drivers: NDArray[np.intp], on: Bools, fuses: NDArray[np.intp], blown: Bools) -> Floats:
    state = ohms.copy()
    state[:, drivers] = np.where(on, ohms[:, drivers], OPEN)
    state[:, fuses] = np.where(blown, OPEN, ohms[:, fuses])
    return state


def _forces(netlist: Netlist) -> Floats:
    """Electromotive force of every element [V]; lamps and motors carry their rated voltage there, which is none."""
    return np.array([e.volts if e.kind == "source" else 0.0 for e in netlist.elements])


def _linear(netlist: Netlist, ohms: Floats, columns: list[int]) -> tuple[Floats, Floats]:
    """Node voltages (B, N) and probe resistances (B, K, K) for fixed switching states, lamps and motors included."""
    cuts = [slice(i, i + _ROWS_AT_ONCE) for i in range(0, max(len(ohms), 1), _ROWS_AT_ONCE)]
    parts = [_linear_rows(netlist, ohms[cut], columns) for cut in cuts]
    return np.concatenate([volts for volts, _ in parts]), np.concatenate([resistances for _, resistances in parts])


def _linear_rows(netlist: Netlist, ohms: Floats, columns: list[int]) -> tuple[Floats, Floats]:
    """One batch that fits the processor's cache."""
    bent, (a, b) = _Bent.of(netlist), netlist.ends
    lamps = bent.elements
    reduced = reduce_network(netlist.plan, np.ascontiguousarray(1.0 / ohms.T), LEAK_SIEMENS)
    forces = _forces(netlist)
    sources, count = np.flatnonzero(forces), len(lamps)
    ports = [(int(a[e]), int(b[e])) for e in (*lamps, *sources)] + [(node, -1) for node in columns]
    seen = reduced.transfer(ports)
    drives = forces[sources] / ohms[:, sources]
    open_volts = np.einsum("bls,bs->bl", seen[:, :count, count : count + len(sources)], drives)
    extra, tangent = _lamps(bent, open_volts, seen[:, :count, :count], ohms[:, lamps])
    injected = np.zeros((len(netlist.nodes) + 1, len(ohms)))  # the last is the reference, index -1
    for e, amps in (*zip(lamps, -extra.T, strict=True), *zip(sources, drives.T, strict=True)):
        injected[a[e]] += amps
        injected[b[e]] -= amps
    volts = reduced.volts(injected)
    return volts.T, _probe_resistances(seen, count, count + len(sources), tangent)


def _lamps(bent: _Bent, open_volts: Floats, seen: Floats, hot_ohms: Floats) -> tuple[Floats, Floats]:
    """Current beyond the hot or rated resistance's (B, L) and the tangent's extra conductance (B, L) where they settle.

    Solves V = V0 - Z (I(V) - V/R) by Newton's method; where that has not converged, by the chord
    I(V)/V, which contracts (the log-slope of a lamp's resistance is 0.45, of a motor's between -1 and 0).
    """
    hot = 1.0 / hot_ohms
    volts, eye = open_volts.copy(), np.eye(open_volts.shape[1])
    for step in range(_LAMP_STEPS):
        drawn = bent.current(volts, hot_ohms)
        residual = volts - open_volts + np.einsum("bij,bj->bi", seen, drawn - volts * hot)
        if not residual.size or np.abs(residual).max() < LAMP_TOLERANCE_VOLTS:
            break
        if step < _NEWTON_STEPS:
            curved = seen * (bent.slope(volts, hot_ohms) - hot)[:, None, :]
            volts = volts - np.linalg.solve(eye + curved, residual[:, :, None])[:, :, 0]
        else:
            safe = np.where(volts == 0.0, 1e-6, volts)
            chord = seen * (bent.current(safe, hot_ohms) / safe - hot)[:, None, :]
            volts = np.asarray(np.linalg.solve(eye + chord, open_volts[:, :, None])[:, :, 0], dtype=np.float64)
    else:
        raise OscillationError(
            "a lamp's or motor's operating point was not found", [f"residual {np.abs(residual).max():.2g} V"]
        )
    return bent.current(volts, hot_ohms) - volts * hot, bent.slope(volts, hot_ohms) - hot


def _probe_resistances(seen: Floats, lamps: int, first: int, tangent: Floats) -> Floats:
    """Small-signal resistance matrix of the probes, corrected from the hot lamps to their tangents (Woodbury)."""
    plain, from_probe = seen[:, first:, first:], seen[:, :lamps, first:]
    if not plain.size or not from_probe.size:
        return plain
    core = np.eye(lamps) + seen[:, :lamps, :lamps] * tangent[:, None, :]
    return plain - (from_probe.transpose(0, 2, 1) * tangent[:, None, :]) @ np.linalg.solve(core, from_probe)


def _wanted(netlist: Netlist, volts: Floats, ohms: Floats, drivers: NDArray[np.intp]) -> Bools:
    """Which drivers the units and relays switch on at these voltages, shape (B, D)."""
    padded = np.pad(volts, ((0, 0), (0, 1)))
    index, position = netlist.node_index, {netlist.elements[d].id: k for k, d in enumerate(drivers)}
    wanted = np.zeros((len(volts), len(drivers)), bool)
    for unit in netlist.units:
        ground = padded[:, index[unit.ground]]
        powered = padded[:, index[unit.supply]] - ground >= unit.works_above_volts
        low = {i.name: padded[:, index[i.node]] - ground < i.low_below_volts for i in unit.inputs}

        def truth(name: str, value: str, low: dict[str, Bools] = low) -> Bools:
            """Where an input has a level, or whether a control has a value."""
            if name in low:
                return low[name] if value == "low" else ~low[name]
            return np.full(len(volts), netlist.settings[name] == value)

        for output in unit.outputs:
            wanted[:, position[output.driver]] = powered & output.on_when.evaluate(truth)
    for relay in netlist.relays:
        coil = netlist.element_index[relay.coil]
        part = netlist.elements[coil]
        amps = np.abs(padded[:, index[part.a]] - padded[:, index[part.b]]) / ohms[:, coil]
        wanted[:, position[relay.driver]] = amps >= relay.operates_above_volts / part.ohms
    return wanted


def _worst_fuse(netlist: Netlist, volts: Floats, ohms: Floats, fuses: NDArray[np.intp]) -> Bools:
    """The most overloaded fuse of each row, if any is over its limit: fuses open one at a time, shape (B, F)."""
    padded = np.pad(volts, ((0, 0), (0, 1)))
    a, b = netlist.ends
    amps = np.abs(padded[:, a[fuses]] - padded[:, b[fuses]]) / ohms[:, fuses]
    load = amps / netlist.column("amps")[fuses]
    alike = load >= load.max(axis=1, keepdims=True, initial=0.0) * (1.0 - _ALIKE)
    worst: Bools = alike & (np.cumsum(alike, axis=1) == 1) & (load > FUSE_OPENS_ABOVE)
    return worst
