"""A model without a schematic as values: parts with their causes, and the chances of what each cause shows.

All of it comes from `read_tables` through the reader, already checked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.knowledge.documents import Address, Place, Repair, Schematic, Settings, Symptom
from advisor.knowledge.library import PartType

Chances = Mapping[str, float]
"""P(outcome) by the outcome's id."""


@dataclass(frozen=True)
class Condition:
    """How the vehicle stands for a test: what is set, in a person's words, and what to mind."""

    id: str
    text: str
    when: Settings = field(default_factory=dict)
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class TablePart:
    """Something that can fail: where it sits, how often it fails and in which modes."""

    id: str
    title: str
    place: str
    type: PartType
    at: Address


@dataclass(frozen=True)
class TableSymptom:
    """What the customer reports, and P(shows | cause alone) of each cause that starts it."""

    symptom: Symptom
    given: Chances


@dataclass(frozen=True)
class TableTest:
    """A test with its outcomes, ordered so that the later one wins where two causes act.

    `outcomes` maps ids to labels, `leak` has P(outcome) without any cause of the model, `given` P(outcome | cause
    alone, no leak) of each cause that the test answers to.
    """

    id: str
    title: str
    place: str
    instrument: str
    minutes: float
    condition: str
    outcomes: Mapping[str, str]
    leak: Chances
    given: Mapping[str, Chances]
    at: Address
    cautions: tuple[str, ...] = ()
    disturbing: bool = False

    @property
    def labels(self) -> Mapping[str, str]:
        """What a person reads of each outcome, by its id."""
        return self.outcomes


@dataclass(frozen=True)
class TableFile:
    """What table/1 says, section by section; what could not be read is left out."""

    id: str = ""
    title: str = ""
    places: Mapping[str, Place] = field(default_factory=dict)
    parts: Mapping[str, TablePart] = field(default_factory=dict)
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    symptoms: Mapping[str, TableSymptom] = field(default_factory=dict)
    tests: Mapping[str, TableTest] = field(default_factory=dict)
    repairs: Mapping[str, Repair] = field(default_factory=dict)


@dataclass(frozen=True)
class Tables:
    """A table file joined with its vehicle.

    `schematic` holds what a model has without anything drawn: places, controls, parts, symptoms, repairs, and the
    library with a type for each part.
    """

    schematic: Schematic
    parts: Mapping[str, TablePart]
    conditions: Mapping[str, Condition]
    symptoms: Mapping[str, TableSymptom]
    tests: Mapping[str, TableTest]
