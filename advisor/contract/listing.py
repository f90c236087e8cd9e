"""What circuits there are, and what one of them holds, as answers."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.contract.answer import ConditionOut, PlaceOut, WithheldOut, condition, withheld
from advisor.contract.engine import KnownModel
from advisor.contract.frozen import Answered
from advisor.contract.wording import end, part_place, part_title, part_type, place_title
from advisor.knowledge.catalogue import Test
from advisor.knowledge.documents import Connector, Schematic


class SymptomRow(Answered):
    """What a customer can report."""

    id: str
    title: str


class CircuitRow(Answered):
    """A circuit of the shelf with the symptoms that it knows."""

    id: str
    title: str
    symptoms: tuple[SymptomRow, ...]


class CircuitList(Answered):
    """Every circuit of the shelf that can be used; `broken` are the ids of those that cannot."""

    circuits: tuple[CircuitRow, ...]
    broken: tuple[str, ...] = ()


class OutcomeRow(Answered):
    """A named range of a test's reading; open ends are null."""

    id: str
    label: str
    low: float | None
    high: float | None
    unit: str
    settles: bool


class TestRow(Answered):
    """A test that may be proposed."""

    __test__ = False  # not a pytest class

    id: str
    title: str
    place: PlaceOut
    instrument: str
    condition: ConditionOut
    outcomes: tuple[OutcomeRow, ...]


class PartRow(Answered):
    """Something that can fail, and how."""

    id: str
    title: str
    type: str
    place: PlaceOut | None
    modes: tuple[str, ...]


class ConnectorRow(Answered):
    """A plug: cavities in drawing order, in equal rows; inline ones have wires on both halves."""

    id: str
    title: str
    cavities: tuple[str, ...]
    rows: int
    inline: bool


class CircuitDetail(CircuitRow):
    """One circuit: what can be reported, tested and found."""

    tests: tuple[TestRow, ...]
    parts: tuple[PartRow, ...]
    connectors: tuple[ConnectorRow, ...]
    withheld: tuple[WithheldOut, ...]


def circuit_list(schematics: Iterable[Schematic]) -> CircuitList:
    """List circuits by id."""
    rows = (CircuitRow(id=item.id, title=item.title, symptoms=_symptoms(item)) for item in schematics)
    return CircuitList(circuits=tuple(sorted(rows, key=lambda row: row.id)))


def circuit_detail(model: KnownModel) -> CircuitDetail:
    """Tell what one circuit holds."""
    schematic = model.schematic
    return CircuitDetail(
        id=schematic.id,
        title=schematic.title,
        symptoms=_symptoms(schematic),
        tests=tuple(_test(schematic, test) for test in model.tests.values()),
        parts=tuple(_part(schematic, part) for part in model.cause_parts),
        connectors=tuple(_connector(connector) for connector in schematic.connectors.values()),
        withheld=withheld(model.withheld),
    )


def _symptoms(schematic: Schematic) -> tuple[SymptomRow, ...]:
    return tuple(SymptomRow(id=symptom.id, title=symptom.title) for symptom in schematic.symptoms.values())


def _place(schematic: Schematic, place: str) -> PlaceOut:
    return PlaceOut(id=place, title=place_title(schematic, place))


def _test(schematic: Schematic, test: Test) -> TestRow:
    return TestRow(
        id=test.id,
        title=test.title,
        place=_place(schematic, test.place),
        instrument=test.instrument,
        condition=condition(test, schematic),
        outcomes=tuple(
            OutcomeRow(
                id=item.id,
                label=item.label,
                low=end(item.low),
                high=end(item.high),
                unit=test.unit,
                settles=item.settles,
            )
            for item in test.outcomes
        ),
    )


def _part(schematic: Schematic, part: str) -> PartRow:
    place, type_id = part_place(schematic, part), part_type(schematic, part)
    known = schematic.library.types.get(type_id)
    return PartRow(
        id=part,
        title=part_title(schematic, part),
        type=type_id,
        place=None if place is None else _place(schematic, place),
        modes=tuple(mode.id for mode in known.modes) if known else (),
    )


def _connector(connector: Connector) -> ConnectorRow:
    return ConnectorRow(
        id=connector.id,
        title=connector.title,
        cavities=connector.cavities,
        rows=connector.rows,
        inline=connector.inline,
    )
