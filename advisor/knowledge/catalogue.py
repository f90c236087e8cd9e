"""The tests and withheld tests of a compiled circuit, as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

LOOKING = "eye"
"""The instrument that needs nothing opened or touched."""


@dataclass(frozen=True)
class Outcome:
    """A named range of a test's reading, low <= reading < high; open ends are infinite.

    The range from infinity to infinity holds no value: it is that of a reading that never settles.
    """

    id: str
    label: str
    low: float
    high: float

    @property
    def settles(self) -> bool:
        """Whether a value belongs to it."""
        return self.low < self.high


@dataclass(frozen=True)
class Setup:
    """How the vehicle stands while a test is done.

    `settings` has every control, `unplug` the connectors that are apart and fuses that are pulled, `jumper`
    the two nodes that a fused jumper joins, `lamp` those between which a test lamp hangs, `swap` the part in whose
    place a known-good one sits.
    """

    settings: Mapping[str, str]
    unplug: tuple[str, ...] = ()
    jumper: tuple[str, str] | None = None
    lamp: tuple[str, str] | None = None
    swap: str = ""

    @property
    def key(self) -> str:
        """The same text for setups that are the same."""
        return repr((sorted(self.settings.items()), self.unplug, self.jumper, self.lamp, self.swap))


LOADS = ("lamp", "motor", "horn", "heater", "gauge", "charge", "gassing")
"""Kinds of loads that are watched."""


@dataclass(frozen=True)
class Observed:
    """What is seen: volts or ohms between two nodes, amps in a wire, what a load does, or damage.

    Of a load there is a lamp's light, a motor's speed, the power of horn, heater or gauge, charge lost or forced in.
    """

    red: str = ""
    black: str = ""
    lamp: str = ""
    wire: str = ""
    parts: tuple[str, ...] = ()
    motor: str = ""
    horn: str = ""
    heater: str = ""
    gauge: str = ""
    charge: str = ""
    gassing: str = ""

    @property
    def load(self) -> str:
        """The load that is looked at, or nothing."""
        return self.lamp or self.motor or self.horn or self.heater or self.gauge or self.charge or self.gassing

    @property
    def kind(self) -> str:
        """The load's kind, or nothing."""
        return next((kind for kind in LOADS if getattr(self, kind)), "")


@dataclass(frozen=True)
class Test:
    """One generated test: what to set up, where to probe, what may be seen.

    `probe` lists (connector, cavity) pairs, red first, or the wire that a clamp goes around; `unit` is "V", "ohm" or
    "A", and "" for light or speed as a share of nominal or the chance of seeing damage; `minutes` are for doing it
    with the place open; `for_sides` is true of one that reads as another does, but from the other side of its plug.
    """

    __test__ = False  # not a pytest class

    id: str
    kind: str
    title: str
    place: str
    probe: tuple[tuple[str, str], ...]
    instrument: str
    setup: Setup
    condition: str
    condition_text: str
    minutes: float
    disturbing: bool
    unit: str
    outcomes: tuple[Outcome, ...]
    normal_value: float
    observed: Observed = Observed()
    cautions: tuple[str, ...] = ()
    for_sides: bool = False

    @property
    def opens(self) -> bool:
        """Whether its place has to stand open: to look at a lamp or listen to a motor, nothing does."""
        return self.instrument != LOOKING


@dataclass(frozen=True)
class Withheld:
    """A test that is never proposed, and why."""

    test: str
    title: str
    reason: str
