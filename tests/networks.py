"""Small circuits in a line each, for tests of the physics."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import count

from hypothesis import strategies as st

from advisor.circuit.netlist import Element, Netlist, Unit

GROUND = "0"
# An ideal source or a dead short has to have some resistance here; this one is a millionth of what it is beside.
IDEAL_OHMS = 1e-6


def resistor(id: str, a: str, b: str, ohms: float) -> Element:
    """A resistor from a to b."""
    return Element(id, "conductor", a, b, ohms)


def battery(volts: float, plus: str = "plus", minus: str = GROUND, ohms: float = IDEAL_OHMS, id: str = "E") -> Element:
    """A battery with its internal resistance."""
    return Element(id, "source", plus, minus, ohms, volts=volts)


def fuse(id: str, a: str, b: str, amps: float, ohms: float = 0.01) -> Element:
    """A fuse of a rating."""
    return Element(id, "fuse", a, b, ohms, amps=amps)


def driver(id: str, a: str, b: str, ohms: float = 0.5) -> Element:
    """A driver, with its resistance when on."""
    return Element(id, "driver", a, b, ohms)


def netlist(*elements: Element, units: tuple[Unit, ...] = (), settings: Mapping[str, str] | None = None) -> Netlist:
    """A netlist on node 0."""
    return Netlist(GROUND, elements, units, settings or {})


def decades(low: float, high: float) -> st.SearchStrategy[float]:
    """Values spread evenly over decades."""
    return st.floats(math.log10(low), math.log10(high)).map(lambda exponent: 10.0**exponent)


SHAPES = st.recursive(
    decades(1.0, 1e4),
    lambda inner: st.tuples(st.sampled_from(["series", "parallel"]), st.lists(inner, min_size=2, max_size=3)),
    max_leaves=8,
)
"""Series and parallel networks: a resistance [ohm], or how some parts are joined and what they are."""


def laid_out(shape: object, a: str, b: str) -> list[Element]:
    """Resistors R0, R1 … of a series-parallel shape between two nodes."""
    found: list[Element] = []
    fresh = (f"{a}.{number}" for number in count())

    def lay(part: object, start: str, end: str) -> None:
        if isinstance(part, float):
            found.append(resistor(f"R{len(found)}", start, end, part))
            return
        how, parts = part
        for index, inner in enumerate(parts):
            if how == "parallel":
                lay(inner, start, end)
                continue
            last = index == len(parts) - 1
            middle = end if last else next(fresh)
            lay(inner, start, middle)
            start = middle

    lay(shape, a, b)
    return found
