"""What a vehicle and a circuit are drawn with: connectors, parts, wires, splices, grounds, junctions."""

from __future__ import annotations

import re
from collections.abc import Mapping

from advisor.circuit.motor import rated_force
from advisor.knowledge.documents import Connector, Ground, Junction, Part, Splice, UnitInput, UnitOutput, Wire
from advisor.knowledge.fields import Entries, Record, Row, Rows, Variant, optional, required
from advisor.knowledge.kinds import Choice, Flag, Id, ListOf, MappingOf, Number, Text, To, Whole
from advisor.knowledge.notes import Condition, Notes, Reference, suggestion
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode, YamlScalar

POSITIVE = Number(above=0)
NOT_NEGATIVE = Number(least=0)
TITLE = required(Text())
PLACE = required(To("place"))
NODE = To("node")
LOGIC = Text(longest=200)
EDGE = Choice(("top", "bottom", "left", "right"))

# IEC 60757, codes for the designation of colours.
COLOUR_CODES = ("BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "PK", "GD", "TQ", "SR")
_COLOUR = re.compile(f"({'|'.join(COLOUR_CODES)}){{1,2}}")

# Terminals of a relay after DIN 72552, with 30 as the contacts' common side as ISO 7588 relays have it.
RELAY_PINS = ("85", "86", "30", "87")
# The sections whose ids share one name space.
SECTIONS = ("junctions", "connectors", "parts", "wires", "splices", "grounds")
# What a unit's input is called in logic text, by its voltage.
INPUT_VALUES = ("low", "high")


class Colour:
    """One or two IEC 60757 codes written together."""

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the colour as written."""
        text = Text().read(node, notes)
        if not _COLOUR.fullmatch(text):
            notes.refuse(node.at, f"expected one or two of the codes {' '.join(COLOUR_CODES)}, found {text!r}")
        return text


class Gauge:
    """A wire gauge [mm2] that the library's wire table knows."""

    def read(self, node: YamlNode, notes: Notes) -> float:
        """Return the gauge and note it as a reference into the wire table."""
        gauge = POSITIVE.read(node, notes)
        notes.references.append(Reference("wire gauge", f"{gauge:g}", node.at))
        return gauge


def _check_connector(node: YamlMap, connector: Connector, notes: Notes) -> None:
    if len(connector.cavities) % connector.rows:
        at = (node.find("rows") or node).at
        notes.report(at, f"{len(connector.cavities)} cavities do not stand in {connector.rows} equal rows")


def _check_wire(node: YamlMap, wire: Wire, notes: Notes) -> None:
    if wire.start == wire.end:
        notes.report((node.find("to") or node).at, f"wire {wire.id!r} starts and ends at {wire.end!r}")


def _check_part(node: YamlMap, part: Part, notes: Notes) -> None:
    pins = node.find("pins") or node
    kind = notes.part_kinds.get(part.type, "")
    expected = _expected_pins(kind, part)
    if expected is None:
        if len(part.pins) != 2:
            notes.report(pins.at, f"a {kind} has exactly two pins, {part.id!r} has {len(part.pins)}")
    else:
        for pin in expected:
            if pin not in part.pins:
                notes.report(pins.at, f"missing pin {pin!r} of {part.id!r}, a {kind}")
        for pin in part.pins:
            if pin not in expected:
                key = pins.entries[pin][0] if isinstance(pins, YamlMap) else node
                notes.report(key.at, f"unknown pin {pin!r} of {part.id!r}, {suggestion(pin, expected)}")
    watts, volts, ohms = part.watts or 0.0, part.volts or 1.0, part.ohms or 0.0
    if kind == "motor" and rated_force(watts, volts, ohms) <= 0.0:
        at = (node.find("ohms") or node).at
        notes.report(
            at, f"a winding of {ohms:g} ohm leaves {part.id!r} nothing to turn with: {watts:g} W at {volts:g} V"
        )
    _note_conditions(node, part, notes)


def _expected_pins(kind: str, part: Part) -> tuple[str, ...] | None:
    """Return the names of a part's pins, or None for two pins of any name."""
    fixed = {
        "source": ("positive", "negative"),
        "fuse": ("in", "out"),
        "thermal-fuse": ("in", "out"),
        "relay": RELAY_PINS,
        "diode": ("anode", "cathode"),
        "link": ("from", "to"),
    }
    if kind == "unit":
        return ("supply", "ground", *part.inputs, *part.outputs)
    return fixed.get(kind)


def _note_conditions(node: YamlMap, part: Part, notes: Notes) -> None:
    for value in (*part.ohms_at, *part.volts_at):
        at = (node.find("ohms_at", value) or node.find("volts_at", value) or node).at
        notes.references.append(Reference(f"value of {part.follows}", value, at))
    if part.closed_when is not None:
        at = (node.find("closed_when") or node).at
        notes.conditions.append(Condition(part.closed_when, at, {}))
    for name, output in part.outputs.items():
        at = (node.find("outputs", name, "on_when") or node).at
        inputs = dict.fromkeys(part.inputs, INPUT_VALUES)
        notes.conditions.append(Condition(output.on_when, at, inputs))
    for name in ("supply", "ground", *part.inputs):
        if name in part.outputs or (name in ("supply", "ground") and name in part.inputs):
            notes.report(part.at, f"{part.id!r} has more than one pin called {name!r}")


CONNECTOR = Record(
    Connector,
    {
        "title": TITLE,
        "place": PLACE,
        "cavities": required(ListOf(Id(), least=1, unique=True)),
        "rows": required(Whole(1, 100)),
        "inline": optional(Flag()),
        "drawn_from": optional(Choice(("wires", "contacts"))),
        "latch": optional(EDGE),
        "key": optional(EDGE),
        "contact_mm": optional(POSITIVE),
    },
    check=_check_connector,
)
JUNCTION = Record(Junction, {"title": TITLE, "place": PLACE, "probe": optional(Flag())})
SPLICE = Record(Splice, {"title": TITLE, "place": PLACE})
GROUND = Record(Ground, {"title": TITLE, "place": PLACE})
WIRE = Record(
    Wire,
    {
        "from": required(NODE, into="start"),
        "to": required(NODE, into="end"),
        "gauge_mm2": required(Gauge()),
        "length_m": required(POSITIVE),
        "colour": required(Colour()),
        "place": PLACE,
        "assumed_good": optional(Flag()),
        "type": optional(To("part type")),
    },
    check=_check_wire,
)
UNIT_INPUT = Record(UnitInput, {"pull_up_ohms": required(POSITIVE), "low_below_volts": required(POSITIVE)})
UNIT_OUTPUT = Record(
    UnitOutput,
    {"side": required(Choice(("low", "high"))), "on_when": required(LOGIC), "on_ohms": required(POSITIVE)},
)
COMMON_PART: Rows = {
    "type": required(To("part type")),
    "title": TITLE,
    "place": PLACE,
    "pins": required(MappingOf(Id(), NODE)),
    "assumed_good": optional(Flag()),
    "price": optional(NOT_NEGATIVE),
}
# What a part says besides, by the kind of its library type.
PART_KINDS: Mapping[str, Rows] = {
    "source": {
        "volts": required(POSITIVE),
        "ohms": required(POSITIVE),
        "follows": optional(To("control")),
        "volts_at": optional(MappingOf(Id(), POSITIVE)),
        "ohms_at": optional(MappingOf(Id(), POSITIVE)),
    },
    "fuse": {"rating_amps": required(POSITIVE)},
    "switch": {"closed_when": required(LOGIC)},
    "conductor": {},
    "resistor": {"ohms": required(POSITIVE)},
    "lamp": {"watts": required(POSITIVE), "volts": required(POSITIVE)},
    "relay": {
        "ohms": required(POSITIVE),
        "works_above_volts": required(POSITIVE),
        "lets_go_below_volts": optional(POSITIVE),
    },
    "motor": {
        "watts": required(POSITIVE),
        "volts": required(POSITIVE),
        "ohms": required(POSITIVE),
        "drives": optional(Choice(("fan", "steady"))),
    },
    "thermal-fuse": {"rating_amps": required(POSITIVE)},
    "horn": {"watts": required(POSITIVE), "volts": required(POSITIVE)},
    "heater": {"watts": required(POSITIVE), "volts": required(POSITIVE)},
    "gauge": {"watts": required(POSITIVE), "volts": required(POSITIVE)},
    "sender": {"follows": required(To("control")), "ohms_at": required(MappingOf(Id(), POSITIVE))},
    "diode": {"ohms": optional(POSITIVE)},
    "gap": {},
    "charge": {"rating_amps": required(POSITIVE)},
    "gassing": {"rating_amps": required(POSITIVE)},
    "link": {},
    "unit": {
        "draws_amps": required(POSITIVE),
        "works_above_volts": required(POSITIVE),
        "inputs": required(Entries(UNIT_INPUT)),
        "outputs": required(Entries(UNIT_OUTPUT)),
    },
}
PART = Variant(
    "type",
    {kind: Record(Part, {**COMMON_PART, **rows}, check=_check_part) for kind, rows in PART_KINDS.items()},
    choose=lambda name, notes: notes.part_kinds.get(name),
)


class Controls:
    """Controls with their values, the usual one first."""

    def read(self, node: YamlNode, notes: Notes) -> dict[str, tuple[str, ...]]:
        """Return the values by control and declare the controls."""
        controls = MappingOf(Id(), ListOf(Id(), least=1, unique=True)).read(node, notes)
        if isinstance(node, YamlMap):
            notes.declared["controls"] = {name: key.at for name, (key, _) in node.entries.items()}
        return controls


class Settings:
    """What controls are set to: `{ignition: run, belt: fastened}`."""

    def read(self, node: YamlNode, notes: Notes) -> dict[str, str]:
        """Return the settings and note references to controls and their values."""
        settings = MappingOf(To("control"), Id()).read(node, notes)
        if isinstance(node, YamlMap):
            for name, (_, value) in node.entries.items():
                if isinstance(value, YamlScalar):
                    notes.references.append(Reference(f"value of {name}", value.text, value.at))
        return settings


def item_rows() -> dict[str, Row[object]]:
    """Return the rows of the sections that a vehicle and a circuit have in common."""
    return {
        "junctions": optional(Entries(JUNCTION, section="junctions")),
        "connectors": optional(Entries(CONNECTOR, section="connectors")),
        "parts": optional(Entries(PART, section="parts")),
        "wires": optional(Entries(WIRE, section="wires")),
        "splices": optional(Entries(SPLICE, section="splices")),
        "grounds": optional(Entries(GROUND, section="grounds")),
    }
