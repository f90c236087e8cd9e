"""The vehicle file, format vehicle/1: places, controls and what all its circuits share."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from advisor.knowledge.documents import Connector, Ground, Junction, Part, Place, Splice, Wire
from advisor.knowledge.fields import Entries, Record, checked_only, optional, required
from advisor.knowledge.items import Controls, item_rows
from advisor.knowledge.kinds import Choice, Flag, Id, ListOf, Number, Text, To
from advisor.knowledge.notes import Notes
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode

FORMAT = "vehicle/1"
IGNITION = "ignition"


@dataclass(frozen=True)
class VehicleFile:
    """What vehicle/1 says, section by section; what could not be read is left out."""

    id: str = ""
    title: str = ""
    places: Mapping[str, Place] = field(default_factory=dict)
    controls: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    reference: str = ""
    chassis: str = ""
    live: str = ""
    junctions: Mapping[str, Junction] = field(default_factory=dict)
    connectors: Mapping[str, Connector] = field(default_factory=dict)
    parts: Mapping[str, Part] = field(default_factory=dict)
    wires: Mapping[str, Wire] = field(default_factory=dict)
    splices: Mapping[str, Splice] = field(default_factory=dict)
    grounds: Mapping[str, Ground] = field(default_factory=dict)

    def without(self, parts: Collection[str]) -> VehicleFile:
        """The same vehicle less some parts, which a circuit draws in more detail by itself."""
        return replace(self, parts={id: part for id, part in self.parts.items() if id not in parts})


def _check_vehicle(node: YamlMap, vehicle: VehicleFile, notes: Notes) -> None:
    if vehicle.controls and IGNITION not in vehicle.controls:
        notes.report((node.find("controls") or node).at, f"missing control {IGNITION!r}, with its values, run first")
    for place in vehicle.places.values():
        if in_a_loop(place, vehicle.places):
            at = node.find("places", place.id, "inside") or node.find("places") or node
            notes.report(at.at, f"place {place.id!r} is inside of itself")


def in_a_loop(place: Place, places: Mapping[str, Place]) -> bool:
    """Tell whether a place is, by what it is inside of, inside of itself."""
    around = places.get(place.inside or "")
    for _ in places:
        if around is None or around is place:
            break
        around = places.get(around.inside or "")
    return around is place


PLACE = Record(
    Place,
    {
        "title": required(Text()),
        "open_minutes": required(Number(least=0)),
        "close_minutes": required(Number(least=0)),
        "exposure": required(To("exposure")),
        "inside": optional(To("place")),
        "restraint": optional(Flag()),
        "cautions": optional(ListOf(Id(), unique=True)),
    },
)
VEHICLE = Record(
    VehicleFile,
    {
        "format": checked_only(Choice((FORMAT,))),
        "vehicle": required(Id(), into="id"),
        "title": required(Text()),
        "invented": checked_only(Flag(), required=False),
        "library": checked_only(Text(), required=False),
        "places": required(Entries(PLACE, section="places")),
        "controls": required(Controls()),
        "reference": required(To("junction")),
        "chassis": required(To("junction")),
        "live": required(To("junction")),
        **item_rows(),
    },
    check=_check_vehicle,
    lenient=True,
)


def vehicle_file(node: YamlNode | None, notes: Notes) -> VehicleFile:
    """Read a vehicle's sections; problems go to `notes`, and what could not be read is left out."""
    return VEHICLE.read_whole(node, notes) or VehicleFile()
