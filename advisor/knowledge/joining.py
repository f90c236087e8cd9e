"""What nothing draws, a table or the roles of a network, with its vehicle as one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from advisor.knowledge.documents import Part, Schematic, Spare
from advisor.knowledge.library import Library
from advisor.knowledge.read_vehicle import VehicleFile
from advisor.knowledge.roles import RolesFile
from advisor.knowledge.tables import TableFile


def undrawn(
    contents: TableFile | RolesFile,
    vehicle: VehicleFile,
    library: Library,
    files: tuple[str, ...],
    spares: Mapping[str, Spare],
) -> Schematic:
    """Join a file with its vehicle: places and controls of the vehicle, parts of the file, nothing drawn."""
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
