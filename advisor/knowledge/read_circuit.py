"""The circuit file, format circuit/1: the schematic of one function, its behaviour, symptoms and repairs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.knowledge.documents import (
    Address,
    Connector,
    Glance,
    Ground,
    Junction,
    Normal,
    Part,
    Repair,
    SparePart,
    Splice,
    Symptom,
    Window,
    Wire,
)
from advisor.knowledge.documents import Settings as SettingsMap
from advisor.knowledge.fields import Entries, Record, checked_only, optional, required
from advisor.knowledge.items import Controls, Settings, item_rows
from advisor.knowledge.kinds import Choice, Flag, Id, ListOf, MappingOf, Number, Text, To
from advisor.knowledge.notes import Notes, Reference
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode, YamlScalar

FORMAT = "circuit/1"
# What is seen, heard or felt of a load, by its kind.
LOOKS: Mapping[str, tuple[str, ...]] = {
    "lamp": ("lit", "dim", "dark"),
    "motor": ("full", "slow", "stopped"),
    "horn": ("loud", "faint", "silent"),
    "heater": ("warm", "lukewarm", "cold"),
    "gauge": ("full", "middle", "empty"),
    "charge": ("strong", "weak", "flat"),
    "gassing": ("still", "bubbles", "boils"),
}


@dataclass(frozen=True)
class CircuitFile:
    """What circuit/1 says, section by section; what could not be read is left out."""

    id: str = ""
    title: str = ""
    redraws: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    controls: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    junctions: Mapping[str, Junction] = field(default_factory=dict)
    connectors: Mapping[str, Connector] = field(default_factory=dict)
    parts: Mapping[str, Part] = field(default_factory=dict)
    wires: Mapping[str, Wire] = field(default_factory=dict)
    splices: Mapping[str, Splice] = field(default_factory=dict)
    grounds: Mapping[str, Ground] = field(default_factory=dict)
    normal: Mapping[str, Normal] = field(default_factory=dict)
    symptoms: Mapping[str, Symptom] = field(default_factory=dict)
    repairs: Mapping[str, Repair] = field(default_factory=dict)


def _symptom(  # noqa: PLR0913, PLR0917  one argument per key of the file
    id: str,
    at: Address,
    title: str,
    when: SettingsMap,
    watch: str,
    sees: str,
    also: Mapping[str, str] | None = None,
    noticed_days: float | None = None,
    besides: tuple[Glance, ...] = (),
) -> Symptom:
    return Symptom(id, title, when, {watch: sees, **(also or {})}, at, noticed_days, besides)


def _check_symptom(node: YamlMap, symptom: Symptom, notes: Notes) -> None:
    also, watch = node.find("also"), next(iter(symptom.sees))
    _note_look(watch, node.find("sees"), notes)
    if isinstance(also, YamlMap) and watch in also.entries:
        notes.report(also.entries[watch][0].at, f"{watch!r} is watched already, expected another load")


def _note_look(load: str, node: YamlNode | None, notes: Notes) -> None:
    if isinstance(node, YamlScalar):
        notes.references.append(Reference(f"look of {load}", node.text, node.at))


class Seen:
    """What loads are seen to do: `{belt-lamp: lit, blower-motor: slow}`."""

    def read(self, node: YamlNode, notes: Notes) -> dict[str, str]:
        """Return the looks by load and note references to the loads and to looks of their kinds."""
        seen = MappingOf(To("load"), LOOK).read(node, notes)
        if isinstance(node, YamlMap):
            for load, (_, look) in node.entries.items():
                _note_look(load, look, notes)
        return seen


class SpareNumber:
    """The number of a spare part, which the vehicle's list has, where there is one."""

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the number and note the reference."""
        number = Id().read(node, notes)
        notes.references.append(Reference("spare number", number, node.at))
        return number


LOOK = Id()  # which looks a load has is told by its type, so they are checked with the references
SEEN = Seen()


def _check_window(node: YamlMap, window: Window, notes: Notes) -> None:
    if window.after_s >= window.until_s:
        notes.report(node.at, f"the condition ends at {window.until_s:g} s, before it begins at {window.after_s:g} s")


WINDOW = Record(
    Window,
    {"start": required(Text()), "until_s": required(Number(above=0)), "after_s": optional(Number(least=0))},
    check=_check_window,
)
NORMAL = Record(
    Normal,
    {
        "when": required(Settings()),
        "text": required(Text()),
        "sees": required(SEEN),
        "cautions": optional(ListOf(Id(), unique=True)),
        "timed": optional(WINDOW),
    },
)
GLANCE = Record(Glance, {"when": required(Settings()), "sees": required(SEEN)})
SYMPTOM = Record(
    _symptom,
    {
        "title": required(Text()),
        "when": required(Settings()),
        "watch": required(To("load")),
        "sees": required(LOOK),
        "also": optional(SEEN),
        "noticed_days": optional(Number(above=0)),
        "besides": optional(ListOf(GLANCE, least=1)),
    },
    check=_check_symptom,
)
SPARE_PART = Record(
    SparePart, {"number": required(SpareNumber()), "title": required(Text()), "price": required(Number(least=0))}
)
REPAIR = Record(
    Repair,
    {
        "title": required(Text()),
        "restores": required(ListOf(To("cause"), least=1, unique=True)),
        "minutes": required(Number(least=0)),
        "place": required(To("place")),
        "parts": optional(ListOf(SPARE_PART)),
        "coding": optional(Number(least=0)),
        "cautions": optional(ListOf(Id(), unique=True)),
    },
)
CIRCUIT = Record(
    CircuitFile,
    {
        "format": checked_only(Choice((FORMAT,))),
        "circuit": required(Id(), into="id"),
        "title": required(Text()),
        "vehicle": checked_only(Text()),
        "invented": checked_only(Flag(), required=False),
        "redraws": optional(MappingOf(To("part"), ListOf(To("part"), least=1, unique=True))),
        "controls": optional(Controls()),
        **item_rows(),
        "normal": required(Entries(NORMAL, section="normal", least=1)),
        "symptoms": required(Entries(SYMPTOM, section="symptoms", least=1)),
        "repairs": optional(Entries(REPAIR, section="repairs")),
    },
    lenient=True,
)


def circuit_file(node: YamlNode | None, notes: Notes) -> CircuitFile:
    """Read a circuit's sections; problems go to `notes`, and what could not be read is left out."""
    return CIRCUIT.read_whole(node, notes) or CircuitFile()
