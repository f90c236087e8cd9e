"""Which fault sets cannot make a load run, whatever their resistances: a proof from the drawing alone.

Current flows through a load only if some loop leads from a source through it and back.  Opened paths take loops
away, so a set that holds no fault that closes one leaves the load dark, with every control unit's output taken as
on where its condition can hold for some levels of its inputs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.logic import Expression
from advisor.circuit.netlist import ROTOR, Netlist, Unit
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.documents import Symptom
from advisor.knowledge.predicting import JUMPS_ABOUT
from advisor.knowledge.readings import bins, eye_light
from advisor.knowledge.wiring import Cause, Wiring

Bools = NDArray[np.bool_]

_LEAKS = 1e-3
"""Share of full light or speed that leakage through sound insulation could drive at the very most."""
_DARK_ENOUGH = 0.5


@dataclass(frozen=True)
class Proof:
    """What a fault set must hold to show a symptom.

    Attributes:
        needs: Causes of which a set must hold one, shape (C,); all of them where nothing is proved.
        otherwise: P(symptom | set) of a set that holds none of them, at most.
    """

    needs: Bools
    otherwise: float


@dataclass(frozen=True)
class Loops:
    """The paths of one netlist that may conduct, with faults that may close others.

    Attributes:
        netlist: The sound circuit in one setup.
        causes: All causes of the wiring.
    """

    netlist: Netlist
    causes: Sequence[Cause]

    @cached_property
    def _conducting(self) -> list[int]:
        """Elements that conduct in the sound circuit, drivers left aside."""
        return [i for i, e in enumerate(self.netlist.elements) if math.isfinite(e.ohms) and e.kind != "driver"]

    @cached_property
    def _outputs(self) -> frozenset[str]:
        """Drivers of units whose condition holds for some levels of their inputs."""
        return frozenset(
            o.driver for unit in self.netlist.units for o in unit.outputs if _can_hold(self.netlist, unit, o.on_when)
        )

    def switchable(self, extra: Iterable[int] = ()) -> frozenset[str]:
        """Drivers that may be on: of units, and of relays whose coils may carry a current; `extra` conducts too."""
        index, relays = self.netlist.element_index, self.netlist.relays
        on = self._outputs | {relay.driver for relay in relays} | set(self.netlist.diodes)
        while True:
            idle = {r.driver for r in relays if r.driver in on and not self._in_loop(index[r.coil], on, extra)}
            if not idle:
                return on
            on -= idle

    def closes(self, cause: Cause) -> list[int]:
        """Elements without a path that some severity of a fault gives one."""
        ohms = self.netlist.column("ohms")
        changed = (change for variant in cause.variants for change in variant if change.kind == "set")
        return sorted({c.element for c in changed if math.isfinite(c.value) and math.isinf(ohms[c.element])})

    def carry(self, load: int, extra: Iterable[int] = ()) -> bool:
        """Whether a current may flow through a load, `extra` elements conducting too."""
        return self._in_loop(load, self.switchable(extra), extra)

    def _in_loop(self, load: int, on: frozenset[str], extra: Iterable[int]) -> bool:
        """Whether a loop leads through a source and the load: two ways that share no node (K. Menger, 1927)."""
        elements, index = self.netlist.elements, self.netlist.element_index
        conducting = {*self._conducting, *extra, *(index[driver] for driver in on)} - {load}
        ends = [(elements[i].a, elements[i].b) for i in conducting if elements[i].kind != "source"]
        sources = [(e.a, e.b) for e in elements if e.kind == "source"]
        return any(two_ways(ends, source, (elements[load].a, elements[load].b)) for source in sources)

    def needs(self, load: int) -> tuple[Bools, list[int]]:
        """Causes of which a set must hold one for the load to run, shape (C,), and what all others may close.

        All causes where the load runs without any.
        """
        needed, closed = np.zeros(len(self.causes), dtype=bool), list[int]()
        if self.carry(load):
            return ~needed, closed
        for index, cause in enumerate(self.causes):
            bridges = self.closes(cause)
            if bridges and self.carry(load, (*closed, *bridges)):
                needed[index] = True
            else:
                closed += bridges
        return needed, closed


def two_ways(edges: Sequence[tuple[str, str]], start: tuple[str, str], goal: tuple[str, str]) -> bool:
    """Whether two paths without a common node lead from the two start nodes to the two goal nodes."""
    # Loaded here, as only a compile asks: it takes longer than anything else that serving a compiled circuit loads.
    from scipy.sparse import csr_array  # type: ignore[import-untyped] # noqa: PLC0415 - scipy ships no types
    from scipy.sparse.csgraph import maximum_flow  # type: ignore[import-untyped] # noqa: PLC0415 - as above

    nodes = {node: k for k, node in enumerate(sorted({*start, *goal, *(n for edge in edges for n in edge)}))}
    count = len(nodes)
    source, sink = 2 * count, 2 * count + 1  # node k is entered at k and left at count + k
    arcs = {(k, count + k) for k in range(count)}
    arcs |= {(count + nodes[a], nodes[b]) for edge in edges for a, b in (edge, edge[::-1])}
    arcs |= {(source, nodes[n]) for n in start} | {(count + nodes[n], sink) for n in goal}
    tails, heads = np.array(sorted(arcs), dtype=np.int32).T
    graph = csr_array((np.ones(len(tails), dtype=np.int32), (tails, heads)), shape=(2 * count + 2, 2 * count + 2))
    return bool(maximum_flow(graph, source, sink).flow_value >= 2)


def proofs(wiring: Wiring) -> tuple[Proof, ...]:
    """What each symptom needs, in schematic order."""
    return tuple(_proof(wiring, symptom) for symptom in wiring.schematic.symptoms.values())


def _proof(wiring: Wiring, symptom: Symptom) -> Proof:
    """The narrowest of what the symptom's loads need that are seen to run."""
    found = [Proof(np.ones(len(wiring.causes), dtype=bool), 1.0)]
    for glance in symptom.glances:
        loops = Loops(wiring.under(Setup(wiring.usual(glance.when))), wiring.causes)
        for load, look in glance.sees.items():
            if _of_dark(wiring, load, look, blurred=False) < _DARK_ENOUGH and _stays_whole(wiring, load):
                index = loops.netlist.element_index[load + ROTOR if wiring.is_motor(load) else load]
                needs, closed = loops.needs(index)
                blurred = bool(loops.switchable(closed))
                found.append(Proof(needs, 1.0 if needs.all() else _of_dark(wiring, load, look, blurred=blurred)))
    return min(found, key=lambda proof: int(proof.needs.sum()))


def _of_dark(wiring: Wiring, load: str, look: str, *, blurred: bool) -> float:
    """Largest chance that a load without current looks so, with what a unit does that resets itself if `blurred`."""
    outcomes, eye = wiring.scale(load), wiring.schematic.library.instruments["eye"]
    value, spread = eye_light(np.array([0.0, _LEAKS]), eye)
    spread = np.concatenate([spread, np.hypot(spread, JUMPS_ABOUT if blurred else 0.0)])
    p = bins(np.tile(value, 2), spread, outcomes, replace(eye, slip=0.0), 1.0)
    return float(p[:, [outcome.id for outcome in outcomes].index(look)].max())


def _stays_whole(wiring: Wiring, load: str) -> bool:
    """Whether no fault parts the turning element itself, across which a voltage without a current would count."""
    rotor = wiring.netlist.element_index.get(load + ROTOR)
    changes = (change for cause in wiring.causes for variant in cause.variants for change in variant)
    return all(change.element != rotor or math.isfinite(change.value) for change in changes)


def _can_hold(netlist: Netlist, unit: Unit, condition: Expression) -> bool:
    """Whether a unit's condition holds for some levels of its inputs."""
    names = [i.name for i in unit.inputs]
    every = (dict(zip(names, chosen, strict=True)) for chosen in product(("low", "high"), repeat=len(names)))
    return any(condition.holds({**netlist.settings, **chosen}) for chosen in every)
