"""What switches in a netlist: drivers that units and relays drive, fuses that open; prepared once, for many rows."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.netlist import OPEN, Netlist

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

FUSE_OPENS_ABOVE = 1.35
"""Multiple of the rating at which a blade fuse opens within minutes (ISO 8820-3: 135 %, at most 1800 s)."""
_ALIKE = 1e-6
"""Two fuses in series that differ by less carry the same; the first one of the netlist opens, and saves the other."""


@dataclass(frozen=True, eq=False)
class Switching:
    """The drivers and fuses of a netlist.

    Attributes:
        netlist: Of N nodes and E elements.
        drivers: Indices of the drivers, D of them.
        fuses: Indices of the fuses, F of them.
        ratings: Of the fuses [A], shape (F, 1).
    """

    netlist: Netlist
    drivers: Ints
    fuses: Ints
    ratings: Floats

    @classmethod
    @lru_cache(maxsize=256)
    def of(cls, netlist: Netlist) -> Switching:
        """Find a netlist's drivers and fuses."""
        fuses = netlist.of_kind("fuse")
        return cls(netlist, netlist.of_kind("driver"), fuses, netlist.column("amps")[fuses, None])

    def ohms(self, closed: Floats, on: Bools, blown: Bools) -> Floats:
        """Resistances with drivers off and fuses open as told, (D, B) and (F, B), from those with all closed, (E, B).

        The argument is used up.
        """
        closed[self.drivers] = np.where(on, closed[self.drivers], OPEN)
        closed[self.fuses] = np.where(blown, OPEN, closed[self.fuses])
        return closed

    def wanted(self, volts: Floats, ohms: Floats, on: Bools) -> Bools:
        """Which drivers units, relays and diodes switch on, shape (D, B).

        Args:
            volts: Node voltages [V], shape (N + 1, B).
            ohms: Resistance of every element [ohm], shape (E, B).
            on: Which drivers are on, shape (D, B): a relay that is pulled in holds.
        """
        netlist, index = self.netlist, self.netlist.node_index
        position = {netlist.elements[d].id: k for k, d in enumerate(self.drivers)}
        wanted = np.zeros((len(self.drivers), volts.shape[1]), bool)
        for unit in netlist.units:
            ground = volts[index[unit.ground]]
            powered = volts[index[unit.supply]] - ground >= unit.works_above_volts
            low = {i.name: volts[index[i.node]] - ground < i.low_below_volts for i in unit.inputs}

            def truth(name: str, value: str, low: dict[str, Bools] = low) -> Bools:
                """Where an input has a level, or whether a control has a value."""
                if name in low:
                    return low[name] if value == "low" else ~low[name]
                return np.asarray(netlist.settings[name] == value)

            for output in unit.outputs:
                wanted[position[output.driver]] = powered & output.on_when.evaluate(truth)
        for relay in netlist.relays:
            coil = netlist.element_index[relay.coil]
            part = netlist.elements[coil]
            amps = np.abs(volts[index[part.a]] - volts[index[part.b]]) / ohms[coil]
            held = on[position[relay.driver]] & (amps >= relay.lets_go_below_volts / part.ohms)
            wanted[position[relay.driver]] = held | (amps >= relay.operates_above_volts / part.ohms)
        for diode in netlist.diodes:
            part = netlist.elements[netlist.element_index[diode]]
            wanted[position[diode]] = volts[index[part.a]] > volts[index[part.b]]
        return wanted

    def worst_fuse(self, volts: Floats, ohms: Floats) -> Bools:
        """The most overloaded fuse of each row, if any is over its limit: fuses open one at a time, shape (F, B)."""
        a, b = self.netlist.ends[:, self.fuses]
        load = np.abs(volts[a] - volts[b]) / ohms[self.fuses] / self.ratings
        worst: Bools = np.zeros(load.shape, bool)
        over = np.flatnonzero((load > FUSE_OPENS_ABOVE).any(axis=0))
        if len(over):
            alike = load[:, over] >= load[:, over].max(axis=0) * (1.0 - _ALIKE)
            worst[alike.argmax(axis=0), over] = True
        return worst
