"""What each fault mode does to the elements of its part: one list of changes for every severity."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np

from advisor.circuit.netlist import OPEN, ROTOR, Change, Netlist
from advisor.knowledge.library import Cells, FaultMode, Library, PartType

Variants = tuple[tuple[Change, ...], ...]
_LOCKED_OHMS = 1e-3
"""What stands for the missing back-EMF of a motor that cannot turn [ohm]: small beside any winding."""


class Failing(Protocol):
    """Anything that can fail."""

    @property
    def id(self) -> str:
        """By which its elements are called."""

    @property
    def type(self) -> PartType:
        """Its library type."""


def cell_ohms(cells: Cells) -> tuple[float, ...]:
    """Centres of log-spaced resistance cells [ohm]."""
    return tuple(float(ohms) for ohms in np.geomspace(cells.from_ohms, cells.to_ohms, cells.cells))


def variants(netlist: Netlist, item: Failing, mode: FaultMode, library: Library) -> Variants:
    """The changes of a fault mode, one list per severity."""
    index = netlist.element_index

    def on(*suffixes: str, kind: str = "set", value: float = OPEN) -> Variants:
        """Changes of the elements that belong to the item and end in one of the suffixes."""
        ids = [e.id for e in netlist.elements if e.id.startswith(item.id + "/") and e.id.endswith(suffixes)]
        return (tuple(Change(index[id], kind, value) for id in ids),) if ids else ()

    effects: dict[str, Callable[[], Variants]] = {
        "open": lambda: ((Change(index[item.id], "set", OPEN),),),
        "across": lambda: ((Change(index[item.id], "set", item.type.ohms or 0.0),),),
        "series": lambda: ((Change(index[item.id], "add", mode.ohms or 0.0),),),
        "series-cells": lambda: tuple((Change(index[item.id], "add", ohms),) for ohms in cell_ohms(library.cells)),
        "leak-cells": lambda: tuple(v for ohms in cell_ohms(library.leakage) for v in on("/leak", value=ohms)),
        "scale": lambda: ((Change(index[item.id], "scale", mode.factor or 1.0),),),
        "to-ground": lambda: on("/ground", value=mode.ohms or 0.0),
        "to-supply": lambda: on("/supply", value=mode.ohms or 0.0),
        "dead": lambda: on("/feed", "/coil"),
        "output-off": lambda: on("/driver"),
        "output-on": lambda: on("/short", value=_driver_ohms(netlist, item)),
        "input-high": lambda: on("/sense"),
        "seized": lambda: on("/locked", value=_LOCKED_OHMS),
        "drag": lambda: on(ROTOR, kind="scale", value=1.0 / (mode.factor or 1.0)),
    }
    return effects[mode.effect]()


def _driver_ohms(netlist: Netlist, item: Failing) -> float:
    return next((e.ohms for e in netlist.elements if e.kind == "driver" and e.id.startswith(item.id + "/")), OPEN)
