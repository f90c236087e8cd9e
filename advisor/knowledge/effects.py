"""What each fault mode does to the elements of its part: one list of changes for every severity."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from typing import Protocol

import numpy as np

from advisor.circuit.netlist import OPEN, ROTOR, Change, Netlist
from advisor.knowledge.library import Cells, FaultMode, Library, PartType

Variants = tuple[tuple[Change, ...], ...]
FLAT = "/flat"
"""Ends the name of the path beside a battery's force that stands for its being discharged."""
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


@lru_cache(maxsize=64)  # asked for with every cause of every drawing
def cell_ohms(cells: Cells) -> tuple[float, ...]:
    """Centres of log-spaced resistance cells [ohm]."""
    return tuple(float(ohms) for ohms in np.geomspace(cells.from_ohms, cells.to_ohms, cells.cells))


def variants(netlist: Netlist, item: Failing, mode: FaultMode, library: Library) -> Variants:
    """The changes of a fault mode, one list per severity."""
    index, cells = netlist.element_index, library.cells
    if mode.from_ohms and mode.to_ohms:
        cells = replace(cells, from_ohms=mode.from_ohms, to_ohms=mode.to_ohms)

    def on(*suffixes: str, kind: str = "set", value: float = OPEN) -> Variants:
        """Changes of the elements that belong to the item and end in one of the suffixes."""
        ids = [e.id for e in netlist.elements if e.id.startswith(item.id + "/") and e.id.endswith(suffixes)]
        return (tuple(Change(index[id], kind, value) for id in ids),) if ids else ()

    effects: dict[str, Callable[[], Variants]] = {
        "open": lambda: ((Change(index[item.id], "set", OPEN),),),
        "across": lambda: ((Change(index[item.id], "set", item.type.ohms or 0.0),),),
        "series": lambda: ((Change(index[item.id], "add", mode.ohms or 0.0),),),
        "series-cells": lambda: tuple((Change(index[item.id], "add", ohms),) for ohms in cell_ohms(cells)),
        "leak-cells": lambda: tuple(v for ohms in cell_ohms(library.leakage) for v in on("/leak", value=ohms)),
        "scale": lambda: ((Change(index[item.id], "scale", mode.factor or 1.0),),),
        "to-ground": lambda: on("/ground", value=mode.ohms or 0.0),
        "to-supply": lambda: on("/supply", value=mode.ohms or 0.0),
        "dead": lambda: on("/feed", "/coil"),
        "output-off": lambda: on("/driver"),
        "output-on": lambda: on("/short", value=_driver_ohms(netlist, item)),
        "input-high": lambda: on("/sense"),
        "stuck": lambda: on("/stuck", value=_LOCKED_OHMS),
        "discharged": lambda: _discharged(netlist, item, mode),
        "seized": lambda: on("/locked", value=_LOCKED_OHMS),
        "drag": lambda: on(ROTOR, kind="scale", value=1.0 / (mode.factor or 1.0)),
    }
    return effects[mode.effect]()


def _discharged(netlist: Netlist, item: Failing, mode: FaultMode) -> Variants:
    """A force that is lower by what a path beside it takes, the whole seen as the same two poles (Thevenin, 1883).

    E behind R with P across both poles is E P / (R + P) behind R P / (R + P): P = R V / (E - V) rests at V.
    """
    own, beside = (netlist.element_index[id] for id in (item.id, item.id + FLAT))
    force, ohms, rest = netlist.elements[own].volts, netlist.elements[own].ohms + (mode.ohms or 0.0), mode.volts or 0.0
    return ((Change(own, "add", mode.ohms or 0.0), Change(beside, "set", ohms * rest / (force - rest))),)


def _driver_ohms(netlist: Netlist, item: Failing) -> float:
    return next((e.ohms for e in netlist.elements if e.kind == "driver" and e.id.startswith(item.id + "/")), OPEN)
