"""A network file's roles as values: which of its nodes are causes, symptoms and tests, and what these cost.

All of it comes from `read_roles` through the reader; whether the network has such nodes is known once it is read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.knowledge.documents import Address, Place, Repair, Schematic, Symptom
from advisor.knowledge.library import FaultMode, Hazard, PartType, RepairTemplate
from advisor.knowledge.tables import Condition

KIND = "part"
"""Kind of the part types of a network: they have no electrical behaviour."""
States = tuple[str, ...]


@dataclass(frozen=True)
class NodeMode:
    """One way for a part to fail: the states of its node that are it."""

    id: str
    states: States
    title: str = ""


@dataclass(frozen=True)
class NodePart:
    """Something that can fail: its node, the states in which it is good, and how it fails."""

    id: str
    title: str
    place: str
    good: States
    modes: Mapping[str, NodeMode]
    repair: RepairTemplate
    at: Address
    node: str

    @property
    def type(self) -> PartType:
        """The part's type; how often each mode is there stands in the network."""
        modes = tuple(FaultMode(mode.id, 0.0, "", "", title=mode.title) for mode in self.modes.values())
        return PartType(self.id, KIND, Hazard(""), modes, self.repair)


@dataclass(frozen=True)
class NodeSymptom:
    """What the customer reports: the states of its node in which it shows."""

    id: str
    title: str
    shows: States
    at: Address
    node: str

    @property
    def symptom(self) -> Symptom:
        """The symptom as every front end knows it."""
        return Symptom(self.id, self.title, {}, {}, self.at)


@dataclass(frozen=True)
class NodeOutcome:
    """An outcome of a test: the states of its node that are it, and what a person reads."""

    id: str
    states: States
    label: str


@dataclass(frozen=True)
class NodeTest:
    """A test: a node that can be looked at, where, with what, in how many minutes, under which condition."""

    id: str
    title: str
    place: str
    instrument: str
    minutes: float
    condition: str
    outcomes: Mapping[str, NodeOutcome]
    at: Address
    node: str
    cautions: tuple[str, ...] = ()
    disturbing: bool = False

    @property
    def labels(self) -> Mapping[str, str]:
        """What a person reads of each outcome, by its id."""
        return {outcome.id: outcome.label for outcome in self.outcomes.values()}


@dataclass(frozen=True)
class RolesFile:
    """What network/1 says, section by section; what could not be read is left out."""

    id: str = ""
    title: str = ""
    file: str = ""
    places: Mapping[str, Place] = field(default_factory=dict)
    parts: Mapping[str, NodePart] = field(default_factory=dict)
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    symptoms: Mapping[str, NodeSymptom] = field(default_factory=dict)
    tests: Mapping[str, NodeTest] = field(default_factory=dict)
    repairs: Mapping[str, Repair] = field(default_factory=dict)


@dataclass(frozen=True)
class Roles:
    """A roles file joined with its library and vehicle; the network itself is not read yet.

    `schematic` holds what a model has without anything drawn: places, parts, symptoms, repairs, and the library with a
    type for each part.  `file` is where the network stands: a path, or `pgmpy:NAME`; `file_at` is the key that says so.
    """

    schematic: Schematic
    file: str
    file_at: Address
    parts: Mapping[str, NodePart]
    conditions: Mapping[str, Condition]
    symptoms: Mapping[str, NodeSymptom]
    tests: Mapping[str, NodeTest]
