"""Cross references: whether every name used in a file means something in the files together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from advisor.circuit.logic import parse
from advisor.knowledge.documents import Connector
from advisor.knowledge.items import SECTIONS
from advisor.knowledge.notes import Notes, suggestion
from advisor.knowledge.read_circuit import LOOKS, CircuitFile
from advisor.knowledge.read_library import LibraryFile
from advisor.knowledge.read_vehicle import VehicleFile

# What must have been read for a kind of name to be called unknown.
_NEEDS: Mapping[str, tuple[str, ...]] = {
    "place": ("places",),
    "exposure": ("exposures",),
    "part type": ("types",),
    "wire gauge": ("wire_resistance",),
    "control": ("controls",),
    "junction": ("junctions",),
    "node": ("junctions", "connectors", "splices", "grounds"),
    "load": ("parts", "types"),
    "part": ("parts", "wires", "splices", "grounds", "connectors"),
    "cause": ("parts", "wires", "splices", "grounds", "connectors", "types"),
    "symptom": ("symptoms",),
    "step": ("steps",),
}


@dataclass(frozen=True)
class Names:
    """The valid names of one kind; names that start with a `doubtful` id may be valid, its entry is broken."""

    valid: Iterable[str]
    doubtful: Iterable[str] = ()

    def __post_init__(self) -> None:
        # Dictionaries keep the order of the files for messages and find a name at once in large ones.
        object.__setattr__(self, "valid", dict.fromkeys(self.valid))
        object.__setattr__(self, "doubtful", dict.fromkeys(self.doubtful))

    def knows(self, name: str) -> bool:
        """Tell whether the name is valid or cannot be judged."""
        return name in self.valid or name.split("/", maxsplit=1)[0] in self.doubtful


@dataclass(frozen=True)
class World:
    """The files that belong together, as far as they could be read."""

    library: LibraryFile
    vehicle: VehicleFile
    circuit: CircuitFile
    notes: tuple[Notes, ...]

    def declared(self, *sections: str) -> list[str]:
        """Return the ids of sections in all files, broken entries included."""
        return [name for notes in self.notes for section in sections for name in notes.declared.get(section, ())]

    @property
    def connectors(self) -> dict[str, Connector]:
        """The connectors that could be read."""
        return {**self.vehicle.connectors, **self.circuit.connectors}

    @property
    def part_types(self) -> dict[str, str]:
        """The library type of everything that can fail: parts, wires, splices, grounds, contacts."""
        files = (self.vehicle, self.circuit)
        types = {part.id: part.type for file in files for part in file.parts.values()}
        types |= {name: wire.type for file in files for name, wire in file.wires.items()}
        types |= {name: "splice" for file in files for name in file.splices}
        types |= {name: "ground" for file in files for name in file.grounds}
        return types | dict.fromkeys(contacts(self.connectors), "contact")

    def controls(self) -> dict[str, tuple[str, ...]]:
        """Return every control with its values, the vehicle's first."""
        return {**self.vehicle.controls, **self.circuit.controls}


def contacts(connectors: Mapping[str, Connector]) -> list[str]:
    """Return the part id CONN/CAV of every contact."""
    return [f"{name}/{cavity}" for name, connector in connectors.items() for cavity in connector.cavities]


def nodes(world: World) -> list[str]:
    """Return every node as it is written in files."""
    halves = [
        f"{name}/{cavity}{half}"
        for name, connector in world.connectors.items()
        for cavity in connector.cavities
        for half in (("/a", "/b") if connector.inline else ("",))
    ]
    splices = world.declared("splices")
    return [*world.declared("junctions", "grounds"), *halves, *splices, *(f"{splice}/in" for splice in splices)]


def names_of(world: World) -> dict[str, Names]:
    """Return the valid names of every kind that the files define; kinds that nobody could read are left out."""
    types = world.part_types
    modes = {name: part_type.modes for name, part_type in world.library.types.items()}
    plugs = [name for name in world.declared("connectors") if name not in world.connectors]
    broken = [*plugs, *(name for name in world.declared("parts", "wires", "splices", "grounds") if name not in types)]
    typeless = [name.split("/")[0] for name, part_type in types.items() if part_type not in modes]
    kinds = world.notes[0].part_kinds
    loads = {name: kinds[part_type] for name, part_type in types.items() if kinds.get(part_type) in LOOKS}
    names = {
        "place": Names(world.declared("places")),
        "exposure": Names(world.declared("exposures")),
        "part type": Names(world.declared("types")),
        "wire gauge": Names([f"{gauge:g}" for gauge in world.library.wire_resistance or ()]),
        "control": Names(world.declared("controls")),
        "junction": Names(world.declared("junctions")),
        "node": Names(nodes(world), plugs),
        "load": Names(loads, broken),
        "part": Names([*world.declared("parts", "wires", "splices", "grounds"), *types], plugs),
        "cause": Names(
            [f"{name}/{mode.id}" for name, part_type in types.items() for mode in modes.get(part_type, ())],
            [*broken, *typeless],
        ),
        "symptom": Names(world.declared("symptoms")),
    }
    blind = {section for notes in world.notes for section in notes.blind}
    readable = {kind: value for kind, value in names.items() if blind.isdisjoint(_NEEDS[kind])}
    readable |= {f"look of {name}": Names(LOOKS[kind]) for name, kind in loads.items()}
    return readable | {f"value of {name}": Names(values) for name, values in world.controls().items()}


def check_links(notes: Notes, names: Mapping[str, Names], world: World) -> None:
    """Report every reference of one file that means nothing, and every condition that cannot be understood."""
    for reference in notes.references:
        valid = names.get(reference.kind)
        if notes.full:
            return
        if valid is not None and not valid.knows(reference.name):
            notes.report(reference.at, _unknown(reference.kind, reference.name, valid, world))
    for condition in notes.conditions:
        ambiguous = [name for name in condition.inputs if name in world.controls()]
        if ambiguous:
            notes.report(condition.at, f"{ambiguous[0]!r} is both an input and a control; rename the input")
        problem = logic_problem(condition.text, {**world.controls(), **condition.inputs})
        if problem is not None and "control" in names:
            notes.report(condition.at, problem)


def _unknown(kind: str, name: str, valid: Names, world: World) -> str:
    """Say what is unknown about a name; a cavity of a known connector is told with its connector."""
    plug, _, rest = name.partition("/")
    connector = world.connectors.get(plug)
    if kind != "node" or connector is None:
        return f"unknown {kind} {name!r}, {suggestion(name, list(valid.valid))}"
    cavity, _, half = rest.partition("/")
    if cavity not in connector.cavities:
        return f"unknown cavity {rest!r} of connector {plug!r}, expected one of: {', '.join(connector.cavities)}"
    if connector.inline:
        return f"{name!r} does not say which half of inline connector {plug!r}, expected '{plug}/{cavity}/a' or .../b"
    return f"connector {plug!r} is not inline and has no half {half!r}, expected '{plug}/{cavity}'"


def logic_problem(text: str, names: Mapping[str, Sequence[str]]) -> str | None:
    """Say what is wrong with a condition, or nothing."""
    try:
        parse(text, names)
    except ValueError as error:
        return str(error)
    return None


def check_unique(first: Notes, second: Notes) -> None:
    """Report ids that stand for two things, each at both of its places."""
    for sections in (SECTIONS, ("controls",)):
        places = [
            (name, section, at)
            for notes in (first, second)
            for section in sections
            for name, at in notes.declared.get(section, {}).items()
        ]
        by_name: dict[str, list[tuple[str, str]]] = {}
        for name, section, at in places:
            by_name.setdefault(name, []).append((section, f"{at.file}:{at.line}"))
        for name, section, at in places:
            others = [where for where in by_name[name] if where != (section, f"{at.file}:{at.line}")]
            for other_section, where in others:
                first.report(at, f"{name!r} stands for two things, also under {other_section} at {where}; rename one")
