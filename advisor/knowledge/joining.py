"""Files that were read and checked, joined to one document: a circuit or a table with its vehicle and library."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from advisor.knowledge.documents import Chart, Part, Schematic
from advisor.knowledge.links import World
from advisor.knowledge.sharing import used
from advisor.knowledge.tables import TableFile, Tables

T = TypeVar("T")


def schematic_of(world: World, charts: Iterable[Chart], files: Iterable[Path]) -> Schematic:
    """Merge a circuit with what it uses of its vehicle; the vehicle's items stand first."""
    vehicle, circuit = world.vehicle, world.circuit
    leads = used(vehicle, circuit, vehicle.chassis)

    def kept(items: Mapping[str, T]) -> dict[str, T]:
        """The vehicle's items that lead somewhere in this circuit."""
        return {id: item for id, item in items.items() if id in leads}

    return Schematic(
        id=circuit.id,
        title=circuit.title,
        vehicle_id=vehicle.id,
        vehicle_title=vehicle.title,
        controls=world.controls(),
        places=vehicle.places,
        reference=vehicle.reference,
        chassis=vehicle.chassis,
        live=vehicle.live,
        junctions={**vehicle.junctions, **circuit.junctions},
        connectors=world.connectors,
        parts={**kept(vehicle.parts), **circuit.parts},
        wires={**kept(vehicle.wires), **circuit.wires},
        splices={**kept(vehicle.splices), **circuit.splices},
        grounds={**kept(vehicle.grounds), **circuit.grounds},
        normal=circuit.normal,
        symptoms=circuit.symptoms,
        repairs=circuit.repairs,
        charts=tuple(replace(chart, circuit=circuit.id) for chart in charts),
        library=world.library.complete(),
        files=_names(files),
    )


def tables_of(contents: TableFile, world: World, files: Iterable[Path]) -> Tables:
    """Join a table with its vehicle: places and controls of the vehicle, parts of the table, nothing drawn."""
    vehicle, library = world.vehicle, world.library.complete()
    own_types = {part.id: part.type for part in contents.parts.values()}
    schematic = Schematic(
        id=contents.id,
        title=contents.title,
        vehicle_id=vehicle.id,
        vehicle_title=vehicle.title,
        controls=vehicle.controls,
        places={**vehicle.places, **contents.places},
        reference=vehicle.reference,
        chassis=vehicle.chassis,
        live=vehicle.live,
        junctions={},
        connectors={},
        parts={
            part.id: Part(part.id, part.id, part.title, part.place, {}, part.at) for part in contents.parts.values()
        },
        wires={},
        splices={},
        grounds={},
        normal={},
        symptoms={name: row.symptom for name, row in contents.symptoms.items()},
        repairs=contents.repairs,
        charts=(),
        library=replace(library, types={**library.types, **own_types}),
        files=_names(files),
    )
    return Tables(schematic, contents.parts, contents.conditions, contents.symptoms, contents.tests)


def _names(files: Iterable[Path]) -> tuple[str, ...]:
    """Files by their whole path, each once."""
    return tuple(sorted({str(path.resolve()) for path in files}))
