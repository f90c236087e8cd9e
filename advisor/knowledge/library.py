"""The part library as values: how part types behave, fail and are mended, and how instruments err.

All of it comes from `read_library`; every number carries its source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Hazard:
    """How often a part type fails.

    Either a share of a typical circuit's faults divided by the number of such items
    (`share`, `of`), or handbook rates [failures per million hours], or the chance that a vehicle has the fault
    now (`present`).
    """

    source: str
    share: float | None = None
    of: float | None = None
    running_per_million_hours: float | None = None
    parked_per_million_hours: float | None = None
    grows_with: str = "none"
    present: float | None = None


@dataclass(frozen=True)
class FaultMode:
    """One way that a part type fails: its share of the hazard, its electrical effect, how often an eye sees it.

    `loose` is the chance that a reading which it changes jumps about.
    `title` says what it is where its id does not.  `from_ohms` and `to_ohms` take the place of the library's ends of a
    high resistance; `volts` is what a discharged battery rests at.
    """

    id: str
    share: float
    effect: str
    source: str
    ohms: float | None = None
    factor: float | None = None
    seen: float = 0.0
    loose: float = 0.0
    title: str = ""
    from_ohms: float | None = None
    to_ohms: float | None = None
    volts: float | None = None


@dataclass(frozen=True)
class RepairTemplate:
    """How a part of this type is put right: title with {part}, minutes, price and price of coding it [money]."""

    title: str
    minutes: float
    price: float
    source: str
    coding: float = 0.0


@dataclass(frozen=True)
class PartType:
    """A row of the part library; `swap_minutes` are for trying a known-good one instead, None where nobody does."""

    id: str
    kind: str
    hazard: Hazard
    modes: tuple[FaultMode, ...]
    repair: RepairTemplate
    ohms: float | None = None
    swap_minutes: float | None = None
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class CautionText:
    """A safety line: how serious it is (danger, caution or note), the sentence, and its source."""

    level: str
    text: str
    source: str


@dataclass(frozen=True)
class Exposure:
    """A place class: rate multiplier for wires, contacts and grounds, and whether water stands in plugs there."""

    multiplier: float
    source: str
    wet: bool = False


@dataclass(frozen=True)
class PlaceEventRate:
    """How often water, crushing or heat hits a place of one exposure [1/year], and the chance to hit each part."""

    per_year: float
    attack: float
    source: str


@dataclass(frozen=True)
class Intake:
    """What a complaint is worth before any test: shares, days to notice."""

    no_fault_share: float
    as_designed_share: float
    unlisted_share: float
    noticed_days: float
    unnoticed_days: float
    source: str


@dataclass(frozen=True)
class Instrument:
    """Error model of one instrument, in the unit that it reads; the eye in shares of nominal light.

    `mistakable` is whether it may be put to a wrong place, where zero or full supply is what it mostly finds.
    """

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
    leads_ohms: float = 0.0
    mistakable: bool = True

    @property
    def logarithmic(self) -> bool:
        """Whether predictions and their spreads are kept as log10 of the reading: ohms span nine decades."""
        return self.id == "ohmmeter"


@dataclass(frozen=True)
class Limit:
    """A voltage-drop limit [V] with its source."""

    value: float
    source: str


@dataclass(frozen=True)
class Cells:
    """The log-spaced resistance cells of a high-resistance fault or of a leak [ohm]."""

    from_ohms: float
    to_ohms: float
    cells: int
    source: str


@dataclass(frozen=True)
class Mirrored:
    """How often somebody reads a connector from the wrong side, all of a case long, with its source."""

    chance: float
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
    leakage: Cells
    types: Mapping[str, PartType]
    mirrored: Mirrored | None = None
    cautions: Mapping[str, CautionText] = field(default_factory=dict)
