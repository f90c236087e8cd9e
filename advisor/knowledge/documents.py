"""Model files as values: what a library, a vehicle, a circuit and a chart say, already checked.

All of them come from `reader`; nothing here opens a file.  Addresses are kept for the
parts whose meaning is checked later (unknown tests of a chart, unreachable symptoms).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.knowledge.library import Library

Settings = Mapping[str, str]


@dataclass(frozen=True)
class Address:
    """Where a value stands: file as given, line and column from 1."""

    file: str
    line: int
    column: int


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
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Junction:
    """A named node that is no cavity: a post, a bus bar, a rail inside a part."""

    id: str
    title: str
    place: str
    probe: bool = False


@dataclass(frozen=True)
class Connector:
    """A plug: cavities in drawing order, in `rows` equal rows; inline ones have wires on both halves.

    `drawn_from` is the side that the rows are seen from (`wires` or `contacts`), `latch` and `key` where they sit in
    that drawing (top, bottom, left, right, or nothing), `contact_mm` the width of the contacts [mm].
    """

    id: str
    title: str
    place: str
    cavities: tuple[str, ...]
    rows: int
    at: Address
    inline: bool = False
    drawn_from: str = "wires"
    latch: str = ""
    key: str = ""
    contact_mm: float | None = None


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
    lets_go_below_volts: float | None = None
    inputs: Mapping[str, UnitInput] = field(default_factory=dict)
    outputs: Mapping[str, UnitOutput] = field(default_factory=dict)
    follows: str = ""
    ohms_at: Mapping[str, float] = field(default_factory=dict)
    volts_at: Mapping[str, float] = field(default_factory=dict)
    drives: str = "fan"


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
    type: str = "wire"


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
class Window:
    """How long a condition holds: from `after_s` to `until_s` after its start [s]; `start` says how it is begun."""

    start: str
    until_s: float
    after_s: float = 0.0


@dataclass(frozen=True)
class Normal:
    """Normal behaviour under one condition: what each watched load does (lit, dim, dark; full, slow, stopped)."""

    id: str
    when: Settings
    text: str
    sees: Mapping[str, str]
    at: Address
    cautions: tuple[str, ...] = ()
    timed: Window | None = None


@dataclass(frozen=True)
class Glance:
    """What loads are seen to do under one condition."""

    when: Settings
    sees: Mapping[str, str]


@dataclass(frozen=True)
class Symptom:
    """What the customer reports: what loads are seen to do under a condition, and under others besides."""

    id: str
    title: str
    when: Settings
    sees: Mapping[str, str]
    at: Address
    noticed_days: float | None = None
    besides: tuple[Glance, ...] = ()

    @property
    def glances(self) -> tuple[Glance, ...]:
        """All that is seen, condition by condition."""
        return (Glance(self.when, self.sees), *self.besides)


@dataclass(frozen=True)
class SparePart:
    """A part to buy: number, title, price [money]."""

    number: str
    title: str
    price: float


@dataclass(frozen=True)
class Spare:
    """One number of the list of spare parts.

    Attributes:
        number: The number.
        title: What it is.
        at: Where it stands in the file.
        price: What it costs [money of `currency`], None where it cannot be bought any more.
        on: The day of the price, as in 2026-03-01.
        currency: Three letters.
        used_for: Parts of circuits that it is for.
        replaced_by: Numbers that took its place, all of them needed; more than one after a split.
        fits: Whether a piece with this number may still be fitted where it has been replaced.
    """

    number: str
    title: str
    at: Address
    price: float | None = None
    on: str = ""
    currency: str = ""
    used_for: tuple[str, ...] = ()
    replaced_by: tuple[str, ...] = ()
    fits: bool = True


@dataclass(frozen=True)
class Repair:
    """What is done about causes: PART/MODE restored, minutes, parts, where, and what coding the new part costs."""

    id: str
    title: str
    restores: tuple[str, ...]
    minutes: float
    place: str
    parts: tuple[SparePart, ...] = ()
    cautions: tuple[str, ...] = ()
    coding: float = 0.0


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
class NextDoor:
    """A load of another circuit that hangs on something which this circuit uses too, and when to look at it.

    `shares` are the ids of what both use; `normal` says how the load is made to run and what it then does.
    """

    circuit: str
    title: str
    shares: tuple[str, ...]
    normal: Normal


@dataclass(frozen=True)
class Schematic:
    """One circuit with what it uses of the vehicle merged in, and with its neighbours.

    `controls` maps a control to its values, the first being the usual one.  `beside` are the ids of what is drawn for
    the neighbours' sake and taken as good, `next_door` the neighbours' loads that are worth a look; `spares` is the
    vehicle's list of numbers, `redraws` parts of the vehicle with what the circuit draws instead of each.
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
    spares: Mapping[str, Spare] = field(default_factory=dict)
    beside: frozenset[str] = frozenset()
    next_door: tuple[NextDoor, ...] = ()
    redraws: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def battery(self) -> Part:
        """The source of least inner resistance while all controls have their usual values."""
        sources = (part for part in self.parts.values() if "positive" in part.pins and part.volts)
        return min(sources, key=self._usual_ohms)

    def _usual_ohms(self, part: Part) -> float:
        ohms = part.ohms_at.get(self.controls[part.follows][0]) if part.ohms_at else part.ohms
        return ohms or 0.0
