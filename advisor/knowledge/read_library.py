"""The part library, format parts/1: what each key is and what must hold between them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.knowledge.fields import Entries, Record, Rows, Variant, checked_only, optional, required
from advisor.knowledge.kinds import Choice, Flag, Id, ListOf, MappingOf, Number, Text, Whole
from advisor.knowledge.library import (
    CautionText,
    Cells,
    Exposure,
    FaultMode,
    Hazard,
    Instrument,
    Intake,
    Library,
    Limit,
    Mirrored,
    PartType,
    PlaceEventRate,
    RepairTemplate,
)
from advisor.knowledge.notes import Notes
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode, YamlScalar

FORMAT = "parts/1"
KINDS = (
    *("source", "fuse", "switch", "conductor", "resistor", "lamp", "unit", "relay", "motor", "thermal-fuse"),
    *("horn", "heater", "gauge", "sender", "diode", "gap", "charge", "gassing", "link"),
)
# Types that stand behind wires, splices, grounds and cavities, which name no type of their own.
IMPLICIT_TYPES = ("wire", "splice", "ground", "contact")

SHARE = Number(least=0, most=1)
NOT_NEGATIVE = Number(least=0)
POSITIVE = Number(above=0)
SOURCE = required(Text())

# What a fault mode does to its part, and the number that it needs for that.
EFFECTS: Mapping[str, Rows] = {
    "open": {},
    "across": {},
    "series": {"ohms": required(POSITIVE)},
    "series-cells": {"from_ohms": optional(POSITIVE), "to_ohms": optional(POSITIVE)},
    "leak-cells": {},
    "scale": {"factor": required(POSITIVE)},
    "to-ground": {"ohms": required(POSITIVE)},
    "to-supply": {"ohms": required(POSITIVE)},
    "dead": {},
    "output-off": {},
    "output-on": {},
    "input-high": {},
    "seized": {},
    "drag": {"factor": required(POSITIVE)},
    "stuck": {},
    "discharged": {"volts": required(POSITIVE), "ohms": required(POSITIVE)},
}
# Effects that only parts of some kinds can have.
KINDS_WITH: Mapping[str, tuple[str, ...]] = {
    "dead": ("unit", "relay"),
    "output-off": ("unit",),
    "output-on": ("unit", "relay", "diode"),
    "input-high": ("unit",),
    "seized": ("motor",),
    "drag": ("motor",),
    "stuck": ("link",),
    "discharged": ("source",),
}


@dataclass(frozen=True)
class _TypicalCircuit:
    faults_per_year: float
    years: float
    source: str


@dataclass(frozen=True)
class Rates:
    """Handbook rates of a running and a parked vehicle [failures per million hours]."""

    running: float
    parked: float


def _hazard(
    source: str,
    share: float | None = None,
    of: float | None = None,
    per_million_hours: Rates | None = None,
    grows_with: str = "none",
) -> Hazard:
    rates = per_million_hours
    running, parked = (rates.running, rates.parked) if rates else (None, None)
    return Hazard(source, share, of, running, parked, grows_with)


def _check_hazard(node: YamlMap, hazard: Hazard, notes: Notes) -> None:
    shares, rates = {"share", "of"} & set(node.entries), "per_million_hours" in node.entries
    if rates == bool(shares) or len(shares) == 1:
        notes.report(node.at, "expected either share and of, or per_million_hours")


def _check_type(node: YamlMap, part_type: PartType, notes: Notes) -> None:
    modes = node.find("modes")
    whole = isinstance(modes, YamlMap) and len(modes.entries) == len(part_type.modes) > 0
    total = sum(mode.share for mode in part_type.modes)
    if whole and abs(total - 1) > 1e-9:
        notes.report((modes or node).at, f"the shares of the modes of {part_type.id!r} sum to {total:g}, expected 1")
    for mode in part_type.modes:
        kinds = KINDS_WITH.get(mode.effect, KINDS)
        if part_type.kind not in kinds:
            where, allowed = (node.find("modes", mode.id, "effect") or node).at, " or ".join(map(repr, kinds))
            notes.report(
                where, f"effect {mode.effect!r} is for kind {allowed}, {part_type.id!r} is a {part_type.kind!r}"
            )


def _part_type(  # noqa: PLR0913, PLR0917  one argument per key of the file
    id: str,
    kind: str,
    hazard: Hazard,
    modes: Mapping[str, FaultMode],
    repair: RepairTemplate,
    ohms: float | None = None,
    swap_minutes: float | None = None,
    cautions: tuple[str, ...] = (),
) -> PartType:
    return PartType(id, kind, hazard, tuple(modes.values()), repair, ohms, swap_minutes, cautions)


def _check_intake(node: YamlMap, intake: Intake, notes: Notes) -> None:
    total = intake.no_fault_share + intake.as_designed_share + intake.unlisted_share
    if total >= 1:
        notes.report(
            node.at, f"no_fault_share, as_designed_share and unlisted_share sum to {total:g}, expected below 1"
        )


def _check_mode(node: YamlMap, mode: FaultMode, notes: Notes) -> None:
    low, high = mode.from_ohms, mode.to_ohms
    if (low is None) != (high is None):
        notes.report(node.at, "expected both from_ohms and to_ohms, or neither")
    elif low is not None and high is not None and high <= low:
        at = (node.find("to_ohms") or node).at
        notes.report(at, f"to_ohms must be above from_ohms, found {low:g} and {high:g}")


def _check_cells(node: YamlMap, cells: Cells, notes: Notes) -> None:
    if cells.to_ohms <= cells.from_ohms:
        at = (node.find("to_ohms") or node).at
        notes.report(at, f"to_ohms must be above from_ohms, found {cells.to_ohms:g} and {cells.from_ohms:g}")


def _check_types(node: YamlMap, library: LibraryFile, notes: Notes) -> None:
    declared = notes.declared.get("types")
    if declared is None or "types" in notes.blind:
        return
    for name in IMPLICIT_TYPES:
        if name not in declared:
            at = (node.find("types") or node).at
            notes.report(at, f"missing part type {name!r}: every {name} of a circuit is of this type")


class _GaugeKey:
    """A wire gauge as the key of the wire table, kept in one spelling."""

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the gauge [mm2] as short text."""
        return f"{POSITIVE.read(node, notes):g}"


RATES = Record(Rates, {"running": required(NOT_NEGATIVE), "parked": required(NOT_NEGATIVE)})
HAZARD = Record(
    _hazard,
    {
        "share": optional(SHARE),
        "of": optional(POSITIVE),
        "per_million_hours": optional(RATES),
        "grows_with": optional(Choice(("none", "years"))),
        "source": SOURCE,
    },
    check=_check_hazard,
)
MODE = Variant(
    "effect",
    {
        effect: Record(
            FaultMode,
            {
                "share": required(SHARE),
                "effect": required(Choice(tuple(EFFECTS))),
                **rows,
                "seen": optional(SHARE),
                "loose": optional(SHARE),
                "title": optional(Text()),
                "source": SOURCE,
            },
            check=_check_mode,
        )
        for effect, rows in EFFECTS.items()
    },
    choose=lambda effect, notes: effect,
)
REPAIR_TEMPLATE = Record(
    RepairTemplate,
    {
        "title": required(Text()),
        "minutes": required(NOT_NEGATIVE),
        "price": required(NOT_NEGATIVE),
        "coding": optional(NOT_NEGATIVE),
        "source": SOURCE,
    },
)
PART_TYPE = Record(
    _part_type,
    {
        "kind": required(Choice(KINDS)),
        "ohms": optional(NOT_NEGATIVE),
        "swap_minutes": optional(NOT_NEGATIVE),
        "hazard": required(HAZARD),
        "modes": required(Entries(MODE, least=1)),
        "repair": required(REPAIR_TEMPLATE),
        "cautions": optional(ListOf(Id(), unique=True)),
    },
    check=_check_type,
)
CAUTION = Record(
    CautionText,
    {"level": required(Choice(("danger", "caution", "note"))), "text": required(Text(longest=300)), "source": SOURCE},
)
INTAKE = Record(
    Intake,
    {
        "no_fault_share": required(SHARE),
        "as_designed_share": required(SHARE),
        "unlisted_share": required(SHARE),
        "noticed_days": required(POSITIVE),
        "unnoticed_days": required(POSITIVE),
        "source": SOURCE,
    },
    check=_check_intake,
)
COMMON_INSTRUMENT: Rows = {"slip": required(SHARE), "minutes": required(NOT_NEGATIVE), "source": SOURCE}
_AMMETER: Rows = {
    "gain_error": required(SHARE),
    "counts_error": required(NOT_NEGATIVE),
    "resolution": required(POSITIVE),
    "range": required(POSITIVE),
}
INSTRUMENTS: Mapping[str, Rows] = {
    "voltmeter": {
        "ohms": required(POSITIVE),
        "gain_error": required(SHARE),
        "counts_error": required(NOT_NEGATIVE),
        "resolution": required(POSITIVE),
        "supply_spread": required(SHARE),
        "range": required(POSITIVE),
    },
    "ohmmeter": {
        "leads_ohms": required(POSITIVE),
        "gain_error": required(SHARE),
        "counts_error": required(NOT_NEGATIVE),
        "resolution": required(POSITIVE),
        "range": required(POSITIVE),
    },
    "clamp": _AMMETER,
    "ammeter": _AMMETER,
    "fuse-drop": _AMMETER,
    "eye": {"gain_error": required(SHARE)},
    "jumper": {"ohms": required(NOT_NEGATIVE), "fuse_amps": required(POSITIVE)},
    "test-lamp": {"watts": required(POSITIVE), "volts": required(POSITIVE)},
    "visual": {"false_find": required(SHARE)},
    "spare": {},
}
LIMIT = Record(Limit, {"value": required(POSITIVE), "source": SOURCE})
LIMITS = ("ground_volts", "feed_volts", "switch_volts")
WIRE_TABLE = Record(
    lambda milliohm_per_metre: {float(gauge): value for gauge, value in milliohm_per_metre.items()},
    {
        "source": checked_only(Text()),
        "milliohm_per_metre": required(MappingOf(_GaugeKey(), POSITIVE)),
    },
)
CELLS = Record(
    Cells,
    {
        "from_ohms": required(POSITIVE),
        "to_ohms": required(POSITIVE),
        "cells": required(Whole(2, 100)),
        "source": SOURCE,
    },
    check=_check_cells,
)


def _instrument(name: str, rows: Rows) -> Record[Instrument]:
    return Record(lambda **values: Instrument(id=name, **values), {**rows, **COMMON_INSTRUMENT})


@dataclass(frozen=True)
class LibraryFile:
    """What parts/1 says, section by section; what could not be read is left out."""

    title: str = ""
    typical_circuit: _TypicalCircuit | None = None
    exposures: Mapping[str, Exposure] = field(default_factory=dict)
    place_events: Mapping[str, PlaceEventRate] = field(default_factory=dict)
    intake: Intake | None = None
    instruments: Mapping[str, Instrument] = field(default_factory=dict)
    limits: Mapping[str, Limit] = field(default_factory=dict)
    wire_resistance: Mapping[float, float] | None = None
    high_resistance_cells: Cells | None = None
    leakage_cells: Cells | None = None
    types: Mapping[str, PartType] = field(default_factory=dict)
    mirrored: Mirrored | None = None
    cautions: Mapping[str, CautionText] = field(default_factory=dict)

    def complete(self) -> Library:
        """Return the library; call it only when no problem was noted."""
        typical, intake = self.typical_circuit, self.intake
        cells, leakage = self.high_resistance_cells, self.leakage_cells
        assert typical is not None and intake is not None  # else a problem was noted
        assert cells is not None and leakage is not None  # as above
        assert self.wire_resistance is not None  # as above
        return Library(
            title=self.title,
            faults_per_year=typical.faults_per_year,
            typical_years=typical.years,
            typical_source=typical.source,
            exposures=self.exposures,
            place_events=self.place_events,
            intake=intake,
            instruments=self.instruments,
            limits=self.limits,
            milliohm_per_metre=self.wire_resistance,
            cells=cells,
            leakage=leakage,
            types=self.types,
            mirrored=self.mirrored,
            cautions=self.cautions,
        )


def _by_name(**values: object) -> dict[str, object]:
    return values


LIBRARY = Record(
    LibraryFile,
    {
        "format": checked_only(Choice((FORMAT,))),
        "title": required(Text()),
        "typical_circuit": required(
            Record(
                _TypicalCircuit, {"faults_per_year": required(POSITIVE), "years": required(POSITIVE), "source": SOURCE}
            )
        ),
        "exposures": required(
            Entries(
                Record(Exposure, {"multiplier": required(POSITIVE), "wet": optional(Flag()), "source": SOURCE}),
                section="exposures",
            )
        ),
        "place_events": required(
            Entries(
                Record(PlaceEventRate, {"per_year": required(POSITIVE), "attack": required(SHARE), "source": SOURCE})
            )
        ),
        "intake": required(INTAKE),
        "mirrored": optional(Record(Mirrored, {"chance": required(Number(above=0, most=0.5)), "source": SOURCE})),
        "instruments": required(
            Record(_by_name, {name: required(_instrument(name, rows)) for name, rows in INSTRUMENTS.items()})
        ),
        "limits": required(Record(_by_name, {name: required(LIMIT) for name in LIMITS})),
        "wire_resistance": required(WIRE_TABLE),
        "high_resistance_cells": required(CELLS),
        "leakage_cells": required(CELLS),
        "cautions": optional(Entries(CAUTION, section="cautions")),
        "types": required(Entries(PART_TYPE, section="types")),
    },
    check=_check_types,
    lenient=True,
)


def library_file(node: YamlNode | None, notes: Notes) -> LibraryFile:
    """Read a library's sections; problems go to `notes`, and what could not be read is left out."""
    return LIBRARY.read_whole(node, notes) or LibraryFile()


def part_kinds(node: YamlNode | None) -> dict[str, str]:
    """Return the kind of each part type, of broken types as well where their kind can be read."""
    types = node.find("types") if isinstance(node, YamlMap) else None
    if not isinstance(types, YamlMap):
        return {}
    kinds = {name: types.find(name, "kind") for name in types.entries}
    return {name: kind.text for name, kind in kinds.items() if isinstance(kind, YamlScalar) and kind.text in KINDS}
