"""Look next door: loads of other circuits that hang on something which a circuit shares with them.

Whether a load hangs on a shared item is physics: with that item open, in the other circuit alone, the load does not
run as it should.  The other circuit is then drawn beside the first one, its own parts taken as good.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from advisor.circuit.netlist import OPEN, Change
from advisor.circuit.solve import Solution, solve
from advisor.errors import OscillationError
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.checking import look_at
from advisor.knowledge.compiled import supply_volts
from advisor.knowledge.documents import NextDoor, Normal, Schematic
from advisor.knowledge.readings import SCALES
from advisor.knowledge.wiring import Wiring, wire_up

T = TypeVar("T")
_TOGETHER = "together"
_LOADS = 2
"""Loads of one neighbour that are looked at: each look costs a solve, and the third tells little more."""


@dataclass(frozen=True)
class Neighbour:
    """Another circuit of the vehicle.

    Attributes:
        schematic: The circuit on its own.
        shares: What both circuits use, the vehicle's trunk left out: item ids and cavities.
    """

    schematic: Schematic
    shares: frozenset[str]


@dataclass(frozen=True)
class Hanging:
    """A load that runs under a condition of its circuit, and does not as it should with any of some items open."""

    load: str
    normal: Normal
    on: tuple[str, ...]


def hanging(neighbour: Neighbour) -> list[Hanging]:
    """Loads of a neighbour that hang on what is shared, at most two: those that hang on most of it, no two alike."""
    wiring, found = wire_up(neighbour.schematic, failing=False), dict[tuple[str, ...], Hanging]()
    shared = [id for id in wiring.items if id in neighbour.shares]
    for normal in neighbour.schematic.normal.values() if shared else ():
        netlist = wiring.under(Setup(wiring.usual(normal.when)))
        opened = solve(netlist, [(), *((Change(netlist.element_index[id], "set", OPEN),) for id in shared)])
        for load in normal.sees:
            on = tuple(_stopped_by(wiring, opened, load, shared))
            if on and load not in {known.load for known in found.values()}:
                found.setdefault(on, Hanging(load, normal, on))
    return sorted(found.values(), key=lambda load: -len(load.on))[:_LOADS]


def _stopped_by(wiring: Wiring, opened: Solution, load: str, shared: Sequence[str]) -> Iterator[str]:
    """Which shared items, open one after the other in the rows behind the sound one, keep a load from running."""
    shares = opened.shown(load, supply_volts(wiring.schematic))
    usual, *looks = [look_at(wiring, load, float(share)) for share in shares]
    if usual != wiring.scale(load)[0].id:  # what stands still anyway tells nothing
        yield from (id for id, look in zip(shared, looks, strict=True) if look != usual)


def rest(schematic: Schematic) -> dict[str, str]:
    """Settings under which nothing runs that a circuit watches, from its first such condition; else none."""
    kinds = {part.id: schematic.library.types[part.type].kind for part in schematic.parts.values()}
    for normal in schematic.normal.values():
        if all(look == SCALES[kinds[load]][0].id for load, look in normal.sees.items()):
            return dict(normal.when)
    return {}


def with_neighbours(own: Schematic, others: Sequence[Neighbour]) -> Schematic:
    """A circuit with its neighbours drawn beside it, as far as a load of theirs hangs on something shared.

    Raises:
        ValueError: two of these circuits draw something of the same name, or give a control other values.
    """
    joined = own
    for other in others:
        loads = hanging(other)
        if loads:
            both = _joined(*drawn_once(joined, other.schematic))
            looks = list(_looks(own, other.schematic, loads))
            if own.redraws or other.schematic.redraws:
                looks = _as_usual(both, looks)
            if looks:
                joined = replace(both, next_door=(*joined.next_door, *looks))
    return joined


def drawn_once(own: Schematic, other: Schematic) -> tuple[Schematic, Schematic]:
    """Both drawings without what one of them redraws twice over, such as a battery.

    What the circuit itself draws stays, in full or as its vehicle does; only what cannot fail there gives way.
    """
    own_less, other_less = set[str](), set(own.redraws)
    for id, instead in other.redraws.items():
        plain = own.parts.get(id)
        if id in own.redraws or (plain and not plain.assumed_good):
            other_less |= set(instead)
        else:
            own_less.add(id)
    return _without(own, own_less), _without(other, other_less)


def _without(one: Schematic, parts: set[str]) -> Schematic:
    return replace(one, parts={id: part for id, part in one.parts.items() if id not in parts})


def _as_usual(both: Schematic, looks: Sequence[NextDoor]) -> list[NextDoor]:
    """Those looks at which the sound vehicle shows what the neighbour's file says, with this battery and alternator."""
    wiring = wire_up(both, failing=False)
    return [look for look in looks if _seen(wiring, look.normal) == dict(look.normal.sees)]


def _seen(wiring: Wiring, normal: Normal) -> dict[str, str]:
    """What each load of a condition is seen to do in the sound vehicle, nothing where a relay chatters there."""
    try:
        solution = solve(wiring.under(Setup(wiring.usual(normal.when))), [()])
    except OscillationError:
        return {}
    shares = {load: float(solution.shown(load, supply_volts(wiring.schematic))[0]) for load in normal.sees}
    return {load: look_at(wiring, load, share) for load, share in shares.items()}


def _looks(own: Schematic, other: Schematic, loads: Sequence[Hanging]) -> Iterator[NextDoor]:
    """Each load alone, this circuit's own at rest, and while they run, of which the first is watched too."""
    quiet = rest(own)
    for load in loads:
        id, sees = f"{other.id}-{load.normal.id}", {load.load: load.normal.sees[load.load]}
        alone = replace(load.normal, id=id, sees=sees, when={**quiet, **load.normal.when})
        yield NextDoor(other.id, other.title, load.on, alone)
        ours = next(iter(own.normal.values()))
        if all(load.normal.when.get(name, value) == value for name, value in ours.when.items()):
            both = replace(
                alone,
                id=f"{id}-{_TOGETHER}",
                when={**load.normal.when, **ours.when},
                text=f"{load.normal.text}; at the same time: {ours.text}",
                sees=dict([next(iter(ours.sees.items()))]) | sees,
                cautions=tuple(dict.fromkeys((*load.normal.cautions, *ours.cautions))),
            )
            yield NextDoor(other.id, other.title, load.on, both)


def _joined(one: Schematic, other: Schematic) -> Schematic:
    """Two circuits in one drawing; what only the other draws is taken as good."""
    what = f"{one.id} and {other.id} both draw"
    quiet = rest(other)
    controls = {name: _first(values, quiet.get(name)) for name, values in other.controls.items()}
    for name, values in controls.items():
        if sorted(one.controls.get(name, values)) != sorted(values):
            raise ValueError(f"control {name!r} has other values in {one.id} than in {other.id}")
    return replace(
        one,
        junctions=_union(one.junctions, other.junctions, what),
        connectors=_union(one.connectors, other.connectors, what),
        parts=_union(one.parts, other.parts, what),
        wires=_union(one.wires, other.wires, what),
        splices=_union(one.splices, other.splices, what),
        grounds=_union(one.grounds, other.grounds, what),
        controls={**one.controls, **{name: v for name, v in controls.items() if name not in one.controls}},
        files=tuple(sorted({*one.files, *other.files})),
        beside=one.beside | (_ids(other) - _ids(one)),
    )


def _ids(schematic: Schematic) -> frozenset[str]:
    """Everything that a circuit draws."""
    drawn = (schematic.junctions, schematic.connectors, schematic.parts)
    return frozenset(
        id for section in (*drawn, schematic.wires, schematic.splices, schematic.grounds) for id in section
    )


def _union(one: Mapping[str, T], other: Mapping[str, T], what: str) -> dict[str, T]:
    twice = [id for id, value in other.items() if id in one and one[id] != value]
    if twice:
        raise ValueError(f"{what} {', '.join(map(repr, twice))}; draw it in the vehicle, or rename one of the two")
    return {**one, **other}


def _first(values: tuple[str, ...], value: str | None) -> tuple[str, ...]:
    return values if value not in values else (value, *(v for v in values if v != value))
