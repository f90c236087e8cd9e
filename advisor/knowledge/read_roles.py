"""The roles file, format network/1: what the nodes of a discrete network mean to whoever repairs.

The chances stand in the network's own file; here stand titles, places, minutes, prices, and which states are good.
"""

from __future__ import annotations

from collections.abc import Mapping

from advisor.knowledge.documents import Address
from advisor.knowledge.fields import Entries, Record, checked_only, optional, required
from advisor.knowledge.kinds import Choice, Flag, Id, ListOf, Number, Text, To
from advisor.knowledge.library import RepairTemplate
from advisor.knowledge.notes import Notes
from advisor.knowledge.read_circuit import REPAIR
from advisor.knowledge.read_library import REPAIR_TEMPLATE
from advisor.knowledge.read_tables import CONDITION
from advisor.knowledge.read_vehicle import PLACE
from advisor.knowledge.roles import NodeMode, NodeOutcome, NodePart, NodeSymptom, NodeTest, RolesFile, States
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode

FORMAT = "network/1"
STATES = ListOf(Text(), least=1, unique=True)


def _part(  # noqa: PLR0913, PLR0917  one argument per key of the file
    id: str,
    title: str,
    place: str,
    good: list[str],
    modes: Mapping[str, NodeMode],
    repair: RepairTemplate,
    at: Address,
    node: str = "",
) -> NodePart:
    return NodePart(id, title, place, tuple(good), modes, repair, at, node or id)


def _mode(id: str, states: list[str], title: str = "") -> NodeMode:
    return NodeMode(id, tuple(states), title)


def _symptom(id: str, at: Address, title: str, shows: list[str], node: str = "") -> NodeSymptom:
    return NodeSymptom(id, title, tuple(shows), at, node or id)


def _outcome(id: str, states: list[str], label: str) -> NodeOutcome:
    return NodeOutcome(id, tuple(states), label)


def _test(  # noqa: PLR0913, PLR0917  one argument per key of the file
    id: str,
    title: str,
    place: str,
    instrument: str,
    minutes: float,
    condition: str,
    outcomes: Mapping[str, NodeOutcome],
    at: Address,
    node: str = "",
    cautions: tuple[str, ...] = (),
    disturbing: bool = False,
) -> NodeTest:
    return NodeTest(
        id, title, place, instrument, minutes, condition, outcomes, at, node or id, tuple(cautions), disturbing
    )


def _check_part(node: YamlMap, part: NodePart, notes: Notes) -> None:
    _check_apart(node, part.id, [part.good, *(mode.states for mode in part.modes.values())], notes)


def _check_test(node: YamlMap, test: NodeTest, notes: Notes) -> None:
    _check_apart(node, test.id, [outcome.states for outcome in test.outcomes.values()], notes)
    if len(test.outcomes) < 2:
        notes.report((node.find("outcomes") or node).at, f"{test.id!r} has fewer than two outcomes and tells nothing")


def _check_apart(node: YamlMap, name: str, groups: list[States], notes: Notes) -> None:
    every = [state for group in groups for state in group]
    for state in dict.fromkeys(state for state in every if every.count(state) > 1):
        notes.report(node.at, f"{name}: state {state!r} is named twice")


NODE = optional(Text())
MODE = Record(_mode, {"states": required(STATES), "title": optional(Text())})
PART = Record(
    _part,
    {
        "title": required(Text()),
        "node": NODE,
        "place": required(To("place")),
        "good": required(STATES),
        "modes": required(Entries(MODE, least=1)),
        "repair": required(REPAIR_TEMPLATE),
    },
    check=_check_part,
)
SYMPTOM = Record(_symptom, {"title": required(Text()), "node": NODE, "shows": required(STATES)})
OUTCOME = Record(_outcome, {"states": required(STATES), "label": required(Text())})
TEST = Record(
    _test,
    {
        "title": required(Text()),
        "node": NODE,
        "place": required(To("place")),
        "instrument": required(Id()),
        "minutes": required(Number(least=0)),
        "condition": required(To("condition")),
        "outcomes": required(Entries(OUTCOME)),
        "cautions": optional(ListOf(Id(), unique=True)),
        "disturbing": optional(Flag()),
    },
    check=_check_test,
)
ROLES = Record(
    RolesFile,
    {
        "format": checked_only(Choice((FORMAT,))),
        "network": required(Id(), into="id"),
        "title": required(Text()),
        "file": required(Text()),
        "source": checked_only(Text()),
        "library": checked_only(Text(), required=False),
        "vehicle": checked_only(Text(), required=False),
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


def roles_file(node: YamlNode | None, notes: Notes) -> RolesFile:
    """Read a roles file's sections; problems go to `notes`, and what could not be read is left out."""
    return ROLES.read_whole(node, notes) or RolesFile()
