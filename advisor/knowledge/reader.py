"""The only door to model files: reads a file and those that it follows into checked documents.

All problems of all files are raised together as one KnowledgeError.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from advisor.errors import KnowledgeError, Problem
from advisor.knowledge.documents import Address, Chart, Schematic
from advisor.knowledge.joining import schematic_of, undrawn_of
from advisor.knowledge.library import Library
from advisor.knowledge.links import Names, World, check_links, check_unique, names_of
from advisor.knowledge.neighbours import Neighbour, with_neighbours
from advisor.knowledge.notes import Notes, raise_problems, suggestion
from advisor.knowledge.opening import (
    FORMATS,
    Opened,
    beside,
    follow,
    is_file,
    load_file,
    named,
    open_file,
    other_format,
    paths_of,
)
from advisor.knowledge.read_chart import FORMAT as CHART_FORMAT
from advisor.knowledge.read_chart import chart_file
from advisor.knowledge.read_circuit import FORMAT as CIRCUIT_FORMAT
from advisor.knowledge.read_circuit import CircuitFile, circuit_file
from advisor.knowledge.read_library import FORMAT as LIBRARY_FORMAT
from advisor.knowledge.read_library import library_file, part_kinds
from advisor.knowledge.read_roles import FORMAT as NETWORK_FORMAT
from advisor.knowledge.read_roles import roles_file
from advisor.knowledge.read_spares import FORMAT as SPARES_FORMAT
from advisor.knowledge.read_spares import SparesFile, spares_file
from advisor.knowledge.read_tables import FORMAT as TABLE_FORMAT
from advisor.knowledge.read_tables import table_file
from advisor.knowledge.read_vehicle import FORMAT as VEHICLE_FORMAT
from advisor.knowledge.read_vehicle import VehicleFile, in_a_loop, vehicle_file
from advisor.knowledge.roles import Roles, RolesFile
from advisor.knowledge.sharing import in_common, mentioned, trunk, used
from advisor.knowledge.tables import TableFile, Tables
from advisor.knowledge.yaml_nodes import YamlMap, YamlScalar, load_yaml

Document = Library | VehicleFile | Schematic | Chart | Tables | Roles | SparesFile
_VEHICLE_BESIDE_CIRCUITS = "../vehicle.yaml"
_SPARES_BESIDE_VEHICLES = "spares.yaml"
_LIBRARY_BESIDE_VEHICLES = "../library/parts.yaml"


@dataclass(frozen=True)
class _Group:
    """A circuit with everything that it follows, linked and checked; `spares` with the files that list them."""

    circuit: Opened
    alone: World
    world: World
    charts: tuple[tuple[Opened, Chart], ...]
    files: tuple[Opened, ...]
    spares: tuple[list[Opened], SparesFile]

    @property
    def schematic(self) -> Schematic:
        """The circuit with its vehicle, once it is known to have no problems."""
        charts = (chart for _, chart in self.charts)
        return schematic_of(self.world, charts, paths_of(self.files), self.spares[1].priced)

    def raise_problems(self) -> None:
        """Raise the problems of all files together, if there are any."""
        raise_problems([opened.notes for opened in self.files])


def read_library(path: Path) -> Library:
    """Read a part library.

    Raises:
        KnowledgeError: The file has problems; all of them are listed.

    """
    opened = open_file(path, LIBRARY_FORMAT)
    library = library_file(opened.root, opened.notes)
    raise_problems([opened.notes])
    return library.complete()


def read_vehicle(path: Path) -> VehicleFile:
    """Read a vehicle on its own, checked against its part library.

    Raises:
        KnowledgeError: The vehicle or its library has problems; all of them are listed.

    """
    opened = open_file(path, VEHICLE_FORMAT)
    world, library = _read_vehicle(opened)
    raise_problems([opened.notes, library.notes])
    return world.vehicle


def read_schematic(path: Path) -> Schematic:
    """Read a circuit with its vehicle, the part library, its printed charts, and the circuits that it shares with.

    `files` of the result lists every file that the schematic was made from.

    Raises:
        KnowledgeError: Some of these files have problems; all of them are listed.

    """
    group = _read_group(open_file(path, CIRCUIT_FORMAT), _charts_of(path))
    group.raise_problems()
    own = group.schematic
    try:
        return with_neighbours(own, list(_neighbours(group)))
    except ValueError as error:
        raise KnowledgeError([Problem(str(path), 1, 1, str(error))]) from error


def read_chart(path: Path) -> Chart:
    """Read a printed chart, checked against its circuit.

    Raises:
        KnowledgeError: The chart or the files of its circuit have problems; all of them are listed.

    """
    return read_chart_and_circuit(path)[0]


def read_chart_and_circuit(path: Path) -> tuple[Chart, Path]:
    """Read a printed chart, checked against its circuit, and give the path of the circuit's file too.

    Raises:
        KnowledgeError: The chart or the files of its circuit have problems; all of them are listed.

    """
    opened = open_file(path, CHART_FORMAT)
    circuit = follow(opened, "circuit", CIRCUIT_FORMAT)
    if circuit is None:
        chart_file(opened.root, opened.notes)
        raise KnowledgeError(opened.notes.problems)
    group = _read_group(circuit, [opened])
    group.raise_problems()
    return replace(group.charts[0][1], circuit=group.world.circuit.id), circuit.path


def read_tables(path: Path) -> Tables:
    """Read a model without a schematic, with its vehicle and the part library.

    Raises:
        KnowledgeError: Some of these files have problems; all of them are listed.

    """
    table = open_file(path, TABLE_FORMAT)
    vehicle = follow(table, "vehicle", VEHICLE_FORMAT, usual=_VEHICLE_BESIDE_CIRCUITS)
    alone, library = _read_vehicle(vehicle) if vehicle else _nothing()
    contents = table_file(table.root, table.notes)
    world = replace(alone, notes=(*alone.notes, table.notes))
    check_unique(alone.notes[0], table.notes)
    _check_places(table, contents, world)
    listed, spares = _spares_of(vehicle)
    check_links(table.notes, _table_names(contents, world) | _spare_names(listed), world)
    files = (table, *((vehicle,) if vehicle else ()), library, *listed)
    raise_problems([opened.notes for opened in files])
    schematic = undrawn_of(contents, world, paths_of(files), spares.priced)
    return Tables(schematic, contents.parts, contents.conditions, contents.symptoms, contents.tests)


def read_spares(path: Path) -> SparesFile:
    """Read a list of spare parts.

    Raises:
        KnowledgeError: The list has problems; all of them are listed.

    """
    opened = open_file(path, SPARES_FORMAT)
    spares = spares_file(opened.root, opened.notes)
    raise_problems([opened.notes])
    return spares


def read_roles(path: Path) -> Roles:
    """Read a roles file, with its part library and its vehicle if it has one; the network is not read yet.

    Raises:
        KnowledgeError: Some of these files have problems; all of them are listed.

    """
    opened = open_file(path, NETWORK_FORMAT)
    vehicle = follow(opened, "vehicle", VEHICLE_FORMAT)
    alone, library = _read_vehicle(vehicle) if vehicle else _read_library_only(opened)
    contents = roles_file(opened.root, opened.notes)
    world = replace(alone, notes=(*alone.notes, opened.notes))
    check_unique(alone.notes[0], opened.notes)
    _check_places(opened, contents, world)
    check_links(opened.notes, _table_names(contents, world), world)
    files = (opened, *((vehicle,) if vehicle else ()), library)
    raise_problems([each.notes for each in files])
    written = named(opened, "file")
    at = written.at if written else Address(str(path), 1, 1)
    return Roles(
        undrawn_of(contents, world, paths_of(files), {}),
        contents.file,
        at,
        contents.parts,
        contents.conditions,
        contents.symptoms,
        contents.tests,
    )


def read_model(path: Path) -> Schematic | Tables | Roles:
    """Read a file that advice can be given on: a circuit, tables, or the roles of a network.

    Raises:
        KnowledgeError: The file is neither, or it or one that it follows has problems; all of them are listed.

    """
    root, _ = load_yaml(path)
    written = root.find("format") if isinstance(root, YamlMap) else None
    undrawn: dict[str, Callable[[Path], Tables | Roles]] = {TABLE_FORMAT: read_tables, NETWORK_FORMAT: read_roles}
    read = undrawn.get(written.text) if isinstance(written, YamlScalar) else None
    return read(path) if read else read_schematic(path)


def read_any(path: Path) -> Document:
    """Read a model file of any format, told by its key `format`.

    Raises:
        KnowledgeError: The file or one that it follows has problems; all of them are listed.

    """
    root, problems = load_yaml(path)
    written = root.find("format") if isinstance(root, YamlMap) else None
    readers: dict[str, Callable[[Path], Document]] = {
        LIBRARY_FORMAT: read_library,
        VEHICLE_FORMAT: read_vehicle,
        CIRCUIT_FORMAT: read_schematic,
        CHART_FORMAT: read_chart,
        TABLE_FORMAT: read_tables,
        NETWORK_FORMAT: read_roles,
        SPARES_FORMAT: read_spares,
    }
    if isinstance(written, YamlScalar) and written.text in readers:
        return readers[written.text](path)
    if root is not None:
        at, text = (written or root).at, written.text if isinstance(written, YamlScalar) else ""
        what = f"unknown format {text!r}" if written else "missing key 'format'"
        problems.append(Problem(at.file, at.line, at.column, f"{what}, {suggestion(text, FORMATS)}"))
    raise KnowledgeError(problems)


def _read_vehicle(vehicle: Opened) -> tuple[World, Opened]:
    """Read a vehicle and its library, and check the vehicle's own references."""
    library = follow(vehicle, "library", LIBRARY_FORMAT, usual=_LIBRARY_BESIDE_VEHICLES)
    if library is None:
        library = Opened(vehicle.path, None, Notes())
        at = Address(str(vehicle.path), 1, 1)
        vehicle.notes.report(at, f"there is no part library at {_LIBRARY_BESIDE_VEHICLES}, add the key library")
    library_contents = library_file(library.root, library.notes)
    vehicle.notes.part_kinds = part_kinds(library.root)
    contents = vehicle_file(vehicle.root, vehicle.notes)
    world = World(library_contents, contents, CircuitFile(), (vehicle.notes, library.notes))
    check_unique(vehicle.notes, Notes())
    names = names_of(world)
    for notes in (vehicle.notes, library.notes):
        check_links(notes, names, world)
    return world, library


def _read_group(circuit: Opened, charts: list[Opened]) -> _Group:
    """Read a circuit's vehicle, library and charts, and check what refers to what."""
    vehicle = follow(circuit, "vehicle", VEHICLE_FORMAT, usual=_VEHICLE_BESIDE_CIRCUITS)
    alone, library = _read_vehicle(vehicle) if vehicle else _nothing()
    return _grouped(circuit, charts, alone, [*([vehicle] if vehicle else []), library], _spares_of(vehicle))


def _grouped(
    circuit: Opened,
    charts: list[Opened],
    alone: World,
    followed: list[Opened],
    listing: tuple[list[Opened], SparesFile],
) -> _Group:
    """Check a circuit and its charts against a vehicle and a library that have been read."""
    circuit.notes.part_kinds = alone.notes[0].part_kinds
    contents = circuit_file(circuit.root, circuit.notes)
    vehicle = alone.vehicle.without(contents.redraws)
    world = replace(alone, vehicle=vehicle, circuit=contents, notes=(*alone.notes, circuit.notes))
    check_unique(alone.notes[0], circuit.notes)
    listed, spares = listing
    names = names_of(world) | _spare_names(listed)
    check_links(circuit.notes, names, world)
    read = [(opened, chart_file(opened.root, opened.notes)) for opened in charts]
    for opened, _ in read:
        steps = {} if "steps" in opened.notes.blind else {"step": Names(opened.notes.declared.get("steps", {}))}
        check_links(opened.notes, names | steps, world)
    found = tuple((opened, chart) for opened, chart in read if chart is not None)
    return _Group(circuit, alone, world, found, (circuit, *followed, *charts, *listed), (listed, spares))


def _neighbours(group: _Group) -> Iterator[Neighbour]:
    """Circuits in the same folder that share something fallible of the same vehicle, as that draws it.

    Raises:
        KnowledgeError: One of them has problems.

    """
    own, vehicle = group.circuit, group.alone.vehicle
    shared = used(vehicle, group.world.circuit, vehicle.chassis) - trunk(vehicle, vehicle.chassis)
    names = mentioned(vehicle, shared, vehicle.chassis)
    for path in sorted(own.path.parent.glob("*.yaml")) if shared else ():
        text = path.read_text(encoding="utf-8", errors="replace")
        if path.resolve() == own.path.resolve() or not any(name in text for name in names):
            continue
        opened = load_file(path)
        if named(opened, "format") is None or other_format(opened, CIRCUIT_FORMAT):
            continue
        follows = named(opened, "vehicle")
        if follows is None or beside(path, follows.text).resolve() != group.files[1].path.resolve():
            continue
        other = _grouped(opened, [], group.alone, list(group.files[1:3]), group.spares)
        common = in_common(vehicle, group.world.circuit, other.world.circuit, vehicle.chassis)
        if common:
            other.raise_problems()
            yield Neighbour(other.schematic, common)


def _spares_of(vehicle: Opened | None) -> tuple[list[Opened], SparesFile]:
    """Read the list of spare parts beside a vehicle, if there is one."""
    path = beside(vehicle.path, _SPARES_BESIDE_VEHICLES) if vehicle else None
    if path is None or not is_file(path):
        return [], SparesFile()
    opened = open_file(path, SPARES_FORMAT)
    return [opened], spares_file(opened.root, opened.notes)


def _spare_names(listed: Sequence[Opened]) -> dict[str, Names]:
    declared = [name for opened in listed for name in opened.notes.declared.get("spares", {})]
    return {"spare number": Names(declared)} if listed else {}


def _nothing() -> tuple[World, Opened]:
    """Stand for a vehicle and a library that cannot be found: nothing is known, so nothing is called unknown."""
    notes = Notes()
    world = World(library_file(None, notes), vehicle_file(None, notes), CircuitFile(), (notes,))
    return world, Opened(Path(), None, notes)


def _read_library_only(opened: Opened) -> tuple[World, Opened]:
    """Read the part library of a file without a vehicle."""
    library = follow(opened, "library", LIBRARY_FORMAT, usual=_LIBRARY_BESIDE_VEHICLES)
    if library is None:
        library = Opened(opened.path, None, Notes())
        at = Address(str(opened.path), 1, 1)
        opened.notes.report(at, f"there is no part library at {_LIBRARY_BESIDE_VEHICLES}, add the key library")
    contents = library_file(library.root, library.notes)
    world = World(contents, vehicle_file(None, Notes()), CircuitFile(), (Notes(), library.notes))
    check_links(library.notes, names_of(world), world)
    return world, library


def _charts_of(circuit: Path) -> list[Opened]:
    """Open the charts of a circuit, and those that do not tell whose they are, so that none is lost in silence."""
    opened = [open_file(path, CHART_FORMAT) for path in sorted(beside(circuit, "../charts").glob("*.chart.yaml"))]
    return [chart for chart in opened if _belongs(chart, circuit)]


def _belongs(chart: Opened, circuit: Path) -> bool:
    written = named(chart, "circuit")
    target = beside(chart.path, written.text) if written else None
    if written and target and not is_file(target):
        chart.notes.report(written.at, f"circuit: the file {str(target)!r} does not exist")
    return target is None or not is_file(target) or target.resolve() == circuit.resolve()


def _check_places(table: Opened, contents: TableFile | RolesFile, world: World) -> None:
    """Report own places that the vehicle has already, and those that are inside of themselves."""
    places = {**world.vehicle.places, **contents.places}
    for name, at in table.notes.declared.get("places", {}).items():
        if name in world.vehicle.places:
            table.notes.report(at, f"the vehicle has a place {name!r} already")
        elif name in contents.places and in_a_loop(contents.places[name], places):
            table.notes.report(at, f"place {name!r} is inside of itself")


def _table_names(contents: TableFile | RolesFile, world: World) -> dict[str, Names]:
    """Return what names may mean in a table: places and controls as everywhere, causes and conditions its own."""
    notes = world.notes[-1]
    causes = [f"{part.id}/{mode.id}" for part in contents.parts.values() for mode in part.type.modes]
    broken = [name for name in notes.declared.get("parts", {}) if name not in contents.parts]
    own = {
        "parts": ("cause", Names(causes, broken)),
        "conditions": ("condition", Names(notes.declared.get("conditions", {}))),
    }
    drawn = {kind: names for kind, names in names_of(world).items() if kind != "cause"}
    return drawn | dict(names for section, names in own.items() if section not in notes.blind)
