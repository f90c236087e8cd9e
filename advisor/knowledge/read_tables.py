"""The table file, format table/1: causes, symptoms, tests and repairs of a function that no schematic draws.

What a test shows is written down here as chances, one row for each cause that it answers to.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from advisor.knowledge.documents import Address, Symptom
from advisor.knowledge.fields import Entries, Record, checked_only, optional, required
from advisor.knowledge.items import Settings
from advisor.knowledge.kinds import Choice, Flag, Id, ListOf, MappingOf, Number, Text, To
from advisor.knowledge.library import FaultMode, Hazard, PartType, RepairTemplate
from advisor.knowledge.notes import Notes, suggestion
from advisor.knowledge.read_circuit import REPAIR
from advisor.knowledge.read_library import RATES, REPAIR_TEMPLATE, Rates
from advisor.knowledge.read_vehicle import PLACE
from advisor.knowledge.tables import Chances, Condition, TableFile, TablePart, TableSymptom, TableTest
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode

FORMAT = "table/1"
KIND = "part"
"""Kind of the part types of a table: they have no electrical behaviour."""

CHANCE = Number(least=0, most=1)
NOT_NEGATIVE = Number(least=0)
SOURCE = required(Text())
_SUMS_TO_ONE = 1e-9


def _hazard(
    source: str,
    present: float | None = None,
    share: float | None = None,
    of: float | None = None,
    per_million_hours: Rates | None = None,
) -> Hazard:
    rates = per_million_hours
    running, parked = (rates.running, rates.parked) if rates else (None, None)
    return Hazard(source, share, of, running, parked, present=present)


def _check_hazard(node: YamlMap, hazard: Hazard, notes: Notes) -> None:
    ways = [{"present"}, {"share", "of"}, {"per_million_hours"}]
    if {"present", "share", "of", "per_million_hours"} & set(node.entries) not in ways:
        notes.report(node.at, "expected one of: present; share and of; per_million_hours")
    if hazard.present is not None and hazard.present >= 1:
        notes.report((node.find("present") or node).at, "present must be below 1: nothing is broken in every vehicle")


def _mode(id: str, share: float, source: str = "", title: str = "") -> FaultMode:
    return FaultMode(id, share, "", source, title=title)


def _part(  # noqa: PLR0913, PLR0917  one argument per key of the file
    id: str, title: str, place: str, hazard: Hazard, modes: Mapping[str, FaultMode], repair: RepairTemplate, at: Address
) -> TablePart:
    sourced = tuple(replace(mode, source=mode.source or hazard.source) for mode in modes.values())
    return TablePart(id, title, place, PartType(id, KIND, hazard, sourced, repair), at)


def _check_part(node: YamlMap, part: TablePart, notes: Notes) -> None:
    modes = node.find("modes")
    whole = isinstance(modes, YamlMap) and len(modes.entries) == len(part.type.modes)
    total = math.fsum(mode.share for mode in part.type.modes)
    if whole and abs(total - 1) > _SUMS_TO_ONE:
        notes.report((modes or node).at, f"the shares of the modes of {part.id!r} sum to {total:g}, expected 1")


def _symptom(id: str, at: Address, title: str, given: Chances, noticed_days: float | None = None) -> TableSymptom:
    return TableSymptom(Symptom(id, title, {}, {}, at, noticed_days), given)


def _check_test(node: YamlMap, test: TableTest, notes: Notes) -> None:
    if len(test.outcomes) < 2:
        notes.report((node.find("outcomes") or node).at, f"{test.id!r} has fewer than two outcomes and tells nothing")
    rows: dict[tuple[str, ...], Chances] = {("leak",): test.leak}
    rows |= {("given", cause): chances for cause, chances in test.given.items()}
    for keys, chances in rows.items():
        _check_row(node.find(*keys) or node, f"{test.id}, {' '.join(keys)}", chances, test.outcomes, notes)


def _check_row(node: YamlNode, name: str, chances: Chances, outcomes: Mapping[str, str], notes: Notes) -> None:
    unknown = [outcome for outcome in chances if outcome not in outcomes]
    for outcome in unknown:
        at = node.entries[outcome][0].at if isinstance(node, YamlMap) else node.at
        notes.report(at, f"{name}: unknown outcome {outcome!r}, {suggestion(outcome, outcomes)}")
    missing = [outcome for outcome in outcomes if outcome not in chances]
    if missing:
        notes.report(node.at, f"{name}: no chance is given for {', '.join(missing)}")
    total = math.fsum(chances.values())
    if not unknown and not missing and abs(total - 1) > _SUMS_TO_ONE:
        notes.report(node.at, f"{name}: the chances sum to {total:g}, expected 1")


HAZARD = Record(
    _hazard,
    {
        "present": optional(Number(above=0, most=1)),
        "share": optional(CHANCE),
        "of": optional(Number(above=0)),
        "per_million_hours": optional(RATES),
        "source": SOURCE,
    },
    check=_check_hazard,
)
MODE = Record(_mode, {"share": required(CHANCE), "title": optional(Text()), "source": optional(Text())})
PART = Record(
    _part,
    {
        "title": required(Text()),
        "place": required(To("place")),
        "hazard": required(HAZARD),
        "modes": required(Entries(MODE, least=1)),
        "repair": required(REPAIR_TEMPLATE),
    },
    check=_check_part,
)
CONDITION = Record(
    Condition,
    {
        "text": required(Text()),
        "when": optional(Settings()),
        "cautions": optional(ListOf(Id(), unique=True)),
    },
)
SYMPTOM = Record(
    _symptom,
    {
        "title": required(Text()),
        "given": required(MappingOf(To("cause"), CHANCE)),
        "noticed_days": optional(Number(above=0)),
        "source": checked_only(Text()),
    },
)
ROW = MappingOf(Id(), CHANCE)
TEST = Record(
    TableTest,
    {
        "title": required(Text()),
        "place": required(To("place")),
        "instrument": required(Id()),
        "minutes": required(NOT_NEGATIVE),
        "condition": required(To("condition")),
        "outcomes": required(MappingOf(Id(), Text())),
        "leak": required(ROW),
        "given": required(MappingOf(To("cause"), ROW)),
        "cautions": optional(ListOf(Id(), unique=True)),
        "disturbing": optional(Flag()),
        "source": checked_only(Text()),
    },
    check=_check_test,
)
TABLE = Record(
    TableFile,
    {
        "format": checked_only(Choice((FORMAT,))),
        "table": required(Id(), into="id"),
        "title": required(Text()),
        "vehicle": checked_only(Text()),
        "invented": checked_only(Flag(), required=False),
        "places": optional(Entries(PLACE, section="places")),
        "parts": required(Entries(PART, section="parts", least=1)),
        "conditions": required(Entries(CONDITION, section="conditions")),
        "symptoms": required(Entries(SYMPTOM, section="symptoms", least=1)),
        "tests": required(Entries(TEST, section="tests")),
        "repairs": optional(Entries(REPAIR, section="repairs")),
    },
    lenient=True,
)


def table_file(node: YamlNode | None, notes: Notes) -> TableFile:
    """Read a table's sections; problems go to `notes`, and what could not be read is left out."""
    return TABLE.read_whole(node, notes) or TableFile()
