"""Model files as values: what a library, a vehicle, a circuit and a chart say, already checked.

All of them come from `reader`; nothing here opens a file.  Addresses are kept for the
parts whose meaning is checked later (unknown tests of a chart, unreachable symptoms).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Settings = Mapping[str, str]


@dataclass(frozen=True)
class Address:
    """Where a value stands: file as given, line and column from 1."""

    file: str
    line: int
    column: int


@dataclass(frozen=True)
class Hazard:
    """How often a part type fails.

    Either a share of a typical circuit's faults divided by the number of such items
    (`share`, `of`), or handbook rates [failures per million hours].
    """

    source: str
    share: float | None = None
    of: float | None = None
    running_per_million_hours: float | None = None
    parked_per_million_hours: float | None = None
    grows_with: str = "none"


@dataclass(frozen=True)
class FaultMode:
    """One way that a part type fails: its share of the hazard, its electrical effect, how often an eye sees it."""

    id: str
    share: float
    effect: str
    source: str
    ohms: float | None = None
    factor: float | None = None
    seen: float = 0.0


@dataclass(frozen=True)
class RepairTemplate:
    """How a part of this type is put right: title with {part}, minutes, price [money]."""

    title: str
    minutes: float
    price: float
    source: str


@dataclass(frozen=True)
class PartType:
    """A row of the part library."""

    id: str
    kind: str
    hazard: Hazard
    modes: tuple[FaultMode, ...]
    repair: RepairTemplate
    ohms: float | None = None


@dataclass(frozen=True)
class Exposure:
    """Rate multiplier of a place class for wires, contacts and grounds."""

    multiplier: float
    source: str


@dataclass(frozen=True)
class PlaceEventRate:
    """How often water, crushing or heat hits a place of one exposure [1/year], and the chance to hit each part."""

    per_year: float
    attack: float
    source: str


@dataclass(frozen=True)
class Intake:
    """What a complaint is worth before any test: shares, false complaints, days to notice."""

    no_fault_share: float
    as_designed_share: float
    unlisted_share: float
    false_complaint: float
    noticed_days: float
    unnoticed_days: float
    source: str


@dataclass(frozen=True)
class Instrument:
    """Error model of one instrument: volts for the voltmeter, share of nominal light for the eye."""

    id: str
    slip: float
    minutes: float
    source: str
    ohms: float | None = None
    gain_error: float = 0.0
    counts_error: float = 0.0
    resolution: float | None = None
    supply_spread: float = 0.0
    range: float | None = None
    fuse_amps: float | None = None
    watts: float | None = None
    volts: float | None = None
    false_find: float = 0.0


@dataclass(frozen=True)
class Limit:
    """A voltage-drop limit [V] with its source."""

    value: float
    source: str


@dataclass(frozen=True)
class Cells:
    """The log-spaced resistance cells of a high-resistance fault [ohm]."""

    from_ohms: float
    to_ohms: float
    cells: int
    source: str


@dataclass(frozen=True)
class Library:
    """The part library: types, exposures, intake, instruments, limits, wire table."""

    title: str
    faults_per_year: float
    typical_years: float
    typical_source: str
    exposures: Mapping[str, Exposure]
    place_events: Mapping[str, PlaceEventRate]
    intake: Intake
    instruments: Mapping[str, Instrument]
    limits: Mapping[str, Limit]
    milliohm_per_metre: Mapping[float, float]
    cells: Cells
    types: Mapping[str, PartType]


@dataclass(frozen=True)
class Place:
    """Where things sit: opened inside another place, minutes to open and close, exposure class."""

    id: str
    title: str
    open_minutes: float
    close_minutes: float
    exposure: str
    inside: str | None = None
    restraint: bool = False


@dataclass(frozen=True)
class Junction:
    """A named node that is no cavity: a post, a bus bar, a rail inside a part."""

    id: str
    title: str
    place: str
    probe: bool = False


@dataclass(frozen=True)
class Connector:
    """A plug: cavities in drawing order, in `rows` equal rows; inline ones have wires on both halves."""

    id: str
    title: str
    place: str
    cavities: tuple[str, ...]
    rows: int
    at: Address
    inline: bool = False


@dataclass(frozen=True)
class UnitInput:
    """A control unit's input: pull-up to its supply [ohm], read as low below a threshold [V]."""

    pull_up_ohms: float
    low_below_volts: float


@dataclass(frozen=True)
class UnitOutput:
    """A control unit's driver: which side it switches, when (logic text), its on-resistance [ohm]."""

    side: str
    on_when: str
    on_ohms: float


@dataclass(frozen=True)
class Part:
    """A part of a schematic; `pins` names the node of each pin as written in the file."""

    id: str
    type: str
    title: str
    place: str
    pins: Mapping[str, str]
    at: Address
    assumed_good: bool = False
    volts: float | None = None
    ohms: float | None = None
    watts: float | None = None
    rating_amps: float | None = None
    closed_when: str | None = None
    price: float | None = None
    draws_amps: float | None = None
    works_above_volts: float | None = None
    inputs: Mapping[str, UnitInput] = field(default_factory=dict)
    outputs: Mapping[str, UnitOutput] = field(default_factory=dict)


@dataclass(frozen=True)
class Wire:
    """A conductor between two ends; gauge [mm2], length [m], IEC 60757 colour."""

    id: str
    start: str
    end: str
    gauge_mm2: float
    length_m: float
    colour: str
    place: str
    at: Address
    assumed_good: bool = False


@dataclass(frozen=True)
class Splice:
    """A joint of wires: `ID/in` is the feed side, `ID` the branches."""

    id: str
    title: str
    place: str
    at: Address


@dataclass(frozen=True)
class Ground:
    """A ground point between its wires and the body."""

    id: str
    title: str
    place: str
    at: Address


@dataclass(frozen=True)
class Normal:
    """Normal behaviour under one condition: what each watched load does (lit, dim, dark)."""

    id: str
    when: Settings
    text: str
    sees: Mapping[str, str]
    at: Address
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Symptom:
    """What the customer reports: what loads are seen to do under a condition."""

    id: str
    title: str
    when: Settings
    sees: Mapping[str, str]
    at: Address
    noticed_days: float | None = None


@dataclass(frozen=True)
class SparePart:
    """A part to buy: number, title, price [money]."""

    number: str
    title: str
    price: float


@dataclass(frozen=True)
class Repair:
    """What is done about causes: PART/MODE restored, minutes, parts, where."""

    id: str
    title: str
    restores: tuple[str, ...]
    minutes: float
    place: str
    parts: tuple[SparePart, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class ChartAnswer:
    """Where one outcome of a chart step leads: the next step, or parts that it blames."""

    outcome: str
    go: str | None
    blames: tuple[str, ...]
    at: Address


@dataclass(frozen=True)
class ChartStep:
    """One step of a printed chart: a generated test and its answers."""

    id: str
    test: str
    text: str
    answers: tuple[ChartAnswer, ...]
    at: Address


@dataclass(frozen=True)
class Chart:
    """A service manual's step-by-step tree for one symptom."""

    id: str
    title: str
    circuit: str
    symptom: str
    start: str
    steps: tuple[ChartStep, ...]
    at: Address

    @property
    def blamed(self) -> frozenset[str]:
        """Parts that some verdict of the chart names."""
        return frozenset(part for step in self.steps for answer in step.answers for part in answer.blames)


@dataclass(frozen=True)
class Schematic:
    """One circuit with the vehicle's shared parts merged in.

    `controls` maps a control to its values, the first being the usual one.
    """

    id: str
    title: str
    vehicle_id: str
    vehicle_title: str
    controls: Mapping[str, tuple[str, ...]]
    places: Mapping[str, Place]
    reference: str
    chassis: str
    live: str
    junctions: Mapping[str, Junction]
    connectors: Mapping[str, Connector]
    parts: Mapping[str, Part]
    wires: Mapping[str, Wire]
    splices: Mapping[str, Splice]
    grounds: Mapping[str, Ground]
    normal: Mapping[str, Normal]
    symptoms: Mapping[str, Symptom]
    repairs: Mapping[str, Repair]
    charts: tuple[Chart, ...]
    library: Library
    files: tuple[str, ...]
