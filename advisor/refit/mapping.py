"""The mapping file, format mapping/1: which columns of another system are which of an order."""

from __future__ import annotations

from collections.abc import Mapping as Pairs
from dataclasses import dataclass, field
from pathlib import Path

from advisor.errors import OrdersFileError
from advisor.knowledge.documents import Address
from advisor.knowledge.fields import Record, checked_only, optional, required
from advisor.knowledge.kinds import Choice, Flag, ListOf, MappingOf, Number, Text
from advisor.knowledge.notes import Notes, suggestion
from advisor.knowledge.opening import load_file
from advisor.knowledge.yaml_nodes import YamlMap
from advisor.refit.columns import MOMENTS, NEEDED_COLUMNS, NUMBERS, ORDER_COLUMNS, UNITS

MAPPING_FORMAT = "mapping/1"
ENCODINGS = ("utf-8", "latin-1", "cp1252", "utf-16")


@dataclass(frozen=True)
class Source:
    """Where one column of ours comes from.

    Attributes:
        column: Their column, "" where every row gets `always`.
        always: What every row gets.
        values: Ours by theirs; a text that is not named there is a bad cell, unless `others_stay`.
        others_stay: Whether texts that `values` does not name are taken as they are.
        unit: What their numbers are in, "" for our own unit.
        date: How they write moments, as strptime reads it, "" for ISO 8601.
        hours_ahead: By how much their clock is ahead of UTC [h].
    """

    column: str = ""
    always: str = ""
    values: Pairs[str, str] = field(default_factory=dict)
    others_stay: bool = False
    unit: str = ""
    date: str = ""
    hours_ahead: float = 0.0


@dataclass(frozen=True)
class Mapping:
    """How a table of another system becomes one of orders.

    Attributes:
        columns: Ours, each with where it comes from.
        ignored: Columns of theirs that are left behind on purpose.
        delimiter, encoding, decimal: How their CSV is written.
    """

    columns: Pairs[str, Source]
    ignored: tuple[str, ...] = ()
    delimiter: str = ","
    encoding: str = "utf-8"
    decimal: str = "."


OWN = Mapping({name: Source(name) for name in ORDER_COLUMNS})
"""The mapping of a table that has our own columns already, all of them or some."""


def read_mapping(path: Path) -> Mapping:
    """Read a mapping file.

    Raises:
        OrdersFileError: it is wrong; every problem has file, line and column.
    """
    opened = load_file(path)
    read = MAPPING.read_whole(opened.root, opened.notes)
    if opened.notes.problems:
        raise OrdersFileError(opened.notes.problems)
    assert read is not None  # what cannot be read has left a problem
    return read


def _mapping(
    columns: Pairs[str, Source],
    ignore: tuple[str, ...] = (),
    delimiter: str = ",",
    encoding: str = "utf-8",
    decimal: str = ".",
) -> Mapping:
    return Mapping(columns, tuple(ignore), "\t" if delimiter == "tab" else delimiter, encoding, decimal)


def _check_source(node: YamlMap, source: Source, notes: Notes) -> None:
    if bool(source.column) == bool(source.always):
        notes.report(node.at, "a column has either the key 'from' or the key 'always'")


def _check_mapping(node: YamlMap, mapping: Mapping, notes: Notes) -> None:
    listed = node.find("columns")
    entries = listed.entries if isinstance(listed, YamlMap) else {}
    for name, (key, value) in entries.items():
        if name not in ORDER_COLUMNS:
            notes.report(key.at, f"an order has no column {name!r}, {suggestion(name, ORDER_COLUMNS)}")
        elif name in mapping.columns:
            _check_fits(name, mapping.columns[name], value.at, notes)
    for name in NEEDED_COLUMNS:
        if name not in entries:
            notes.report(node.at, f"the column {name} of an order is missing, which every order needs")


def _check_fits(name: str, source: Source, at: Address, notes: Notes) -> None:
    units = UNITS.get(name, {})
    if source.unit and source.unit not in units:
        notes.report(at, f"{name} has no unit {source.unit!r}, {suggestion(source.unit, units)}")
    if (source.date or source.hours_ahead) and name not in MOMENTS:
        notes.report(at, f"{name} is no moment, so that it has neither 'date' nor 'hours_ahead'")
    if source.unit and name not in NUMBERS:
        notes.report(at, f"{name} is no number, so that it has no unit")


SOURCE = Record(
    Source,
    {
        "from": optional(Text(200), into="column"),
        "always": optional(Text(200)),
        "values": optional(MappingOf(Text(200), Text(200))),
        "others_stay": optional(Flag()),
        "unit": optional(Text(20)),
        "date": optional(Text(60)),
        "hours_ahead": optional(Number(least=-14, most=14)),
    },
    check=_check_source,
)
MAPPING = Record(
    _mapping,
    {
        "format": checked_only(Choice((MAPPING_FORMAT,))),
        "title": checked_only(Text(), required=False),
        "columns": required(MappingOf(Text(60), SOURCE)),
        "ignore": optional(ListOf(Text(200), unique=True)),
        "delimiter": optional(Choice((",", ";", "|", "tab"))),
        "encoding": optional(Choice(ENCODINGS)),
        "decimal": optional(Choice((".", ","))),
    },
    check=_check_mapping,
)
