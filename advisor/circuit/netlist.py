"""A circuit as nodes and two-ended elements, ready to be solved: every device becomes these seven kinds.

conductor  a resistance, also an open or closed switch, a wire, a contact
source     an electromotive force behind a resistance
fuse       a resistance that opens for good above its rating
lamp       a tungsten filament (`lamp`)
motor      the turning part of a motor that drives a fan, behind its winding (`motor`)
winch      the same of a motor that pulls against a steady torque
driver     a resistance that a control unit or a relay's coil switches
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.lamp import rated_ohms
from advisor.circuit.logic import Expression
from advisor.circuit.motor import rated_force
from advisor.errors import FloatingNodeError

KINDS = ("conductor", "source", "fuse", "lamp", "motor", "winch", "driver")
BENT = ("lamp", "motor", "winch")
"""Kinds whose current is not proportional to their voltage."""
ROTOR = "/rotor"
OPEN = math.inf
"""Resistance of an open path [ohm]."""


@dataclass(frozen=True)
class Element:
    """One two-ended element from node `a` to node `b`.

    `ohms` is its resistance (a lamp's when hot, a driver's when on, a motor's rated back-EMF over rated
    current), `volts` a source's force from b to a, a lamp's rated voltage or a motor's rated back-EMF,
    `amps` a fuse's rating.
    """

    id: str
    kind: str
    a: str
    b: str
    ohms: float
    volts: float = 0.0
    amps: float = math.inf

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise ValueError(f"element {self.id} is a {self.kind!r}, expected one of {', '.join(KINDS)}")
        if self.a == self.b:
            raise ValueError(f"element {self.id} has both ends at node {self.a}")
        if not self.ohms > 0.0:
            raise ValueError(f"element {self.id} needs a positive resistance, not {self.ohms}")
        if self.kind in BENT and not self.volts > 0.0:
            raise ValueError(f"{self.kind} {self.id} needs a positive rated voltage, not {self.volts}")
        if self.kind == "fuse" and not self.amps > 0.0:
            raise ValueError(f"fuse {self.id} needs a positive rating, not {self.amps}")


@dataclass(frozen=True)
class Input:
    """A unit's input: name, node, voltage to the unit's ground below which it counts as low [V]."""

    name: str
    node: str
    low_below_volts: float


@dataclass(frozen=True)
class Output:
    """A unit's output: the driver element and the condition under which it is on."""

    driver: str
    on_when: Expression


@dataclass(frozen=True)
class Unit:
    """A control unit's logic: it works while supply minus ground is above a threshold [V]."""

    id: str
    supply: str
    ground: str
    works_above_volts: float
    inputs: tuple[Input, ...]
    outputs: tuple[Output, ...]


@dataclass(frozen=True)
class Relay:
    """A relay at rest or pulled in: the driver is on while the coil's current is above what a voltage [V] drives.

    The threshold is the voltage at which a sound coil operates: a coil gets its current at once when somebody
    switches it on.  Once pulled in it stays in down to what `lets_go_below_volts` [V] drives, so that a supply which
    its own contacts pull down does not make it chatter.  Current pulls whichever way it flows.
    """

    id: str
    coil: str
    operates_above_volts: float
    driver: str
    lets_go_below_volts: float = math.inf


@dataclass(frozen=True)
class Change:
    """One electrical effect of a fault on one element: `add` ohms, `set` ohms or `scale` them."""

    element: int
    kind: str
    value: float


@dataclass(frozen=True, eq=False)
class Netlist:
    """Elements between nodes, the units and relays that switch some of them, and the controls' setting.

    `diodes` are drivers that conduct while their first end is above their second.
    """

    reference: str
    elements: tuple[Element, ...]
    units: tuple[Unit, ...]
    settings: Mapping[str, str]
    relays: tuple[Relay, ...] = ()
    diodes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        ids = Counter(element.id for element in self.elements)
        twice = [id for id, count in ids.items() if count > 1]
        if twice:
            raise ValueError(f"two elements are called {', '.join(twice)}")
        drivers = {element.id for element in self.elements if element.kind == "driver"}
        switched = [o.driver for unit in self.units for o in unit.outputs] + [r.driver for r in self.relays]
        switched += self.diodes
        strange = [r.coil for r in self.relays if r.coil not in ids]
        if strange:
            raise ValueError(f"no coil is called {', '.join(strange)}")
        strange = [driver for driver in switched if driver not in drivers]
        if strange:
            raise ValueError(f"no driver is called {', '.join(strange)}")

    @cached_property
    def nodes(self) -> tuple[str, ...]:
        """Every node but the reference, in the order in which the elements name them."""
        ends = dict.fromkeys(end for element in self.elements for end in (element.a, element.b))
        ends.pop(self.reference, None)
        return tuple(ends)

    @cached_property
    def holding(self) -> NDArray[np.intp]:
        """Positions among the drivers of those that start from rest: relays that stay on by themselves, and diodes.

        A diode that was taken as on could feed a coil from behind and so pull in what holds itself from then on.
        """
        position = {self.elements[driver].id: k for k, driver in enumerate(self.of_kind("driver"))}
        held = [r.driver for r in self.relays if r.lets_go_below_volts < r.operates_above_volts] + list(self.diodes)
        return np.array([position[driver] for driver in held], dtype=np.intp)

    @cached_property
    def node_index(self) -> Mapping[str, int]:
        """Index of each node; the reference has -1."""
        return {self.reference: -1} | {node: index for index, node in enumerate(self.nodes)}

    @cached_property
    def element_index(self) -> Mapping[str, int]:
        """Index of each element by its id."""
        return {element.id: index for index, element in enumerate(self.elements)}

    @cached_property
    def ends(self) -> NDArray[np.intp]:
        """Node indices of both ends of every element, shape (2, E)."""
        index = self.node_index
        return np.array([[index[e.a] for e in self.elements], [index[e.b] for e in self.elements]], dtype=np.intp)

    def of_kind(self, *kinds: str) -> NDArray[np.intp]:
        """Return the indices of the elements of some kinds."""
        return np.array([i for i, element in enumerate(self.elements) if element.kind in kinds], dtype=np.intp)

    def column(self, name: str) -> NDArray[np.float64]:
        """One attribute (ohms, volts, amps) of every element, shape (E,)."""
        return np.array([getattr(element, name) for element in self.elements], dtype=np.float64)

    def altered(
        self, ohms: Mapping[str, float], extra: Sequence[Element] = (), volts: Mapping[str, float] | None = None
    ) -> Netlist:
        """Return the same netlist with some resistances [ohm] or forces [V] replaced and elements added at the end."""
        force = {} if volts is None else volts
        elements = [
            replace(e, ohms=ohms.get(e.id, e.ohms), volts=force.get(e.id, e.volts))
            if e.id in ohms or e.id in force
            else e
            for e in self.elements
        ]
        return replace(self, elements=(*elements, *extra))

    def require_grounded(self) -> None:
        """Check that every node reaches the reference, closed or open switches counting alike.

        Raises:
            FloatingNodeError: some nodes have no path to the reference; the likely reasons are listed.

        """
        reached, frontier = {self.reference}, [self.reference]
        neighbours: dict[str, list[str]] = {}
        for element in self.elements:
            neighbours.setdefault(element.a, []).append(element.b)
            neighbours.setdefault(element.b, []).append(element.a)
        while frontier:
            fresh = [n for n in neighbours.get(frontier.pop(), ()) if n not in reached]
            reached.update(fresh)
            frontier.extend(fresh)
        floating = [node for node in self.nodes if node not in reached]
        if floating:
            raise FloatingNodeError("no path to the battery from: " + ", ".join(floating), _reasons(self, floating))


def _reasons(netlist: Netlist, floating: Sequence[str]) -> list[str]:
    ids = [e.id for e in netlist.elements if e.a in floating]
    reasons = [f"a wire is missing between {', '.join(ids)} and the rest of the circuit"]
    if not any(netlist.reference in (e.a, e.b) for e in netlist.elements):
        reasons.append(f"nothing is joined to the battery's negative post {netlist.reference}: the ground is missing")
    if not any(e.kind == "source" for e in netlist.elements):
        reasons.append("the circuit has no battery")
    return reasons


def lamp_element(id: str, a: str, b: str, *, watts: float, volts: float) -> Element:
    """Make a tungsten lamp of `watts` [W] at `volts` [V]."""
    return Element(id, "lamp", a, b, rated_ohms(watts, volts), volts)


def motor_elements(  # noqa: PLR0913  its two ends and what its plate says
    id: str, a: str, b: str, *, watts: float, volts: float, winding_ohms: float, kind: str = "motor"
) -> tuple[Element, ...]:
    """Make a motor of `watts` [W] at `volts` [V]: its winding `id`, and the part that turns, `id/rotor`, of a kind."""
    inner, force = f"{id}/inner", rated_force(watts, volts, winding_ohms)
    winding = Element(id, "conductor", a, inner, winding_ohms)
    return winding, Element(id + ROTOR, kind, inner, b, force * volts / watts, force)
