"""Files that were read and checked, joined to one document: circuit, table or roles with vehicle and library."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

from advisor.knowledge.documents import Chart, Part, Schematic, Spare
from advisor.knowledge.links import World
from advisor.knowledge.roles import RolesFile
from advisor.knowledge.sharing import used
from advisor.knowledge.tables import TableFile

T = TypeVar("T")


def schematic_of(
    world: World, charts: Iterable[Chart], files: tuple[str, ...], spares: Mapping[str, Spare]
) -> Schematic:
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
        files=files,
        spares=spares,
        redraws=circuit.redraws,
    )


def undrawn_of(
    contents: TableFile | RolesFile, world: World, files: tuple[str, ...], spares: Mapping[str, Spare]
) -> Schematic:
    """Join what nothing draws with its vehicle: places and controls of the vehicle, parts of the file."""
    vehicle, library = world.vehicle, world.library.complete()
    own_types = {part.id: part.type for part in contents.parts.values()}
    return Schematic(
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
        files=files,
        spares=spares,
    )
