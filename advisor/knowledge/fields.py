"""The small language in which model files are described: kinds of values, rows, records.

A file format is a table of rows, one per YAML key (`read_library.py`, `items.py`, ...); adding a key is adding a
row.  A kind reads one node into a value; where it cannot, it notes the problem and raises RefusedError, and the
record around it goes on with its other rows, so that all problems are found at once.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from advisor.knowledge.documents import Address
from advisor.knowledge.kinds import Id, Kind, ListOf, MappingOf, entries_at
from advisor.knowledge.notes import Notes, RefusedError, nearest, suggestion
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode, YamlScalar

T = TypeVar("T")

_CHECKED_ONLY = ""


@dataclass(frozen=True)
class Row(Generic[T]):
    """One YAML key of a record: its kind, whether it must be there, the field that it fills ("" for none)."""

    kind: Kind[T]
    required: bool
    into: str | None


def required(kind: Kind[T], into: str | None = None) -> Row[T]:
    """Make the row of a key that must be there."""
    return Row(kind, True, into)


def optional(kind: Kind[T], into: str | None = None) -> Row[T]:
    """Make the row of a key that may be left out."""
    return Row(kind, False, into)


def checked_only(kind: Kind[T], required: bool = True) -> Row[T]:
    """Make the row of a key that is checked and not kept."""
    return Row(kind, required, _CHECKED_ONLY)


# The values of a row become keyword arguments of `make`; the table pairs their types, a test pairs their names.
Rows = Mapping[str, Row[Any]]  # Any: rows of one record have different kinds
Check = Callable[[YamlMap, T, Notes], None]


class Record(Generic[T]):
    """A mapping with known keys, made into a value by `make`.

    `make` also gets `id` (the key above the record) and `at` (its address) if it takes them.  A lenient
    record leaves out what it could not read and relies on the defaults of `make`, so that the rest of a
    broken file can still be checked.
    """

    def __init__(
        self, make: Callable[..., T], rows: Rows, check: Check[T] | None = None, lenient: bool = False
    ) -> None:
        self.make = make
        self.rows = rows
        self.check = check
        self.lenient = lenient
        self.takes = frozenset(inspect.signature(make).parameters)

    def read(self, node: YamlNode, notes: Notes) -> T:
        """Return the value of a record without a name."""
        return self.read_named(node, notes, "", node.at)

    def read_whole(self, node: YamlNode | None, notes: Notes) -> T | None:
        """Return the value of a whole file, None where it cannot be read; nothing is then known of its sections."""
        if node is not None:
            with suppress(RefusedError):
                return self.read(node, notes)
        notes.blind.update(self.rows)
        return None

    def read_named(self, node: YamlNode, notes: Notes, name: str, at: Address) -> T:
        """Return the value of the record that stands under the key `name`."""
        entries = self._by_row(node, notes)
        own = {"id": name, "at": at}
        arguments: dict[str, Any] = {}  # Any: as in Rows, the rows' kinds decide
        arguments |= {field: value for field, value in own.items() if field in self.takes}
        complete = True
        for key, row in self.rows.items():
            into = key if row.into is None else row.into
            try:
                if key in entries:
                    value = row.kind.read(entries[key], notes)
                    if into != _CHECKED_ONLY:
                        arguments[into] = value
                elif row.required:
                    notes.refuse(at, f"missing key {key!r}{f' of {name!r}' if name else ''}")
            except RefusedError:
                complete = complete and not (row.required and into != _CHECKED_ONLY)
                if self.lenient:
                    notes.blind.add(key)
        if not complete and not self.lenient:
            raise RefusedError(name)
        made = self.make(**arguments)
        if self.check is not None and isinstance(node, YamlMap):
            self.check(node, made, notes)
        return made

    def _by_row(self, node: YamlNode, notes: Notes) -> dict[str, YamlNode]:
        """Pair nodes with rows; a misspelt key is reported and read as the absent key that it looks like."""
        entries = entries_at(node, notes)
        result = {key: value for key, (_, value) in entries.items() if key in self.rows}
        for key, (key_node, value) in entries.items():
            if key not in self.rows:
                absent = [row for row in self.rows if row not in result]
                near = nearest(key, absent)
                notes.report(
                    key_node.at, f"unknown key {key!r}, {suggestion(key, absent if near else list(self.rows))}"
                )
                if near is not None:
                    result[near] = value
        return result


@dataclass(frozen=True)
class Variant(Generic[T]):
    """A record whose rows depend on the value of one of its keys."""

    key: str
    records: Mapping[str, Record[T]]
    choose: Callable[[str, Notes], str | None]

    def read_named(self, node: YamlNode, notes: Notes, name: str, at: Address) -> T:
        """Return the value of the record that stands under the key `name`."""
        chosen = self._chosen(node, notes)
        if chosen is not None:
            return self.records[chosen].read_named(node, notes, name, at)
        self._any_record().read_named(node, notes, name, at)
        raise RefusedError(name)

    def _chosen(self, node: YamlNode, notes: Notes) -> str | None:
        selector = node.find(self.key) if isinstance(node, YamlMap) else None
        chosen = self.choose(selector.text, notes) if isinstance(selector, YamlScalar) else None
        return chosen if chosen in self.records else None

    def _any_record(self) -> Record[None]:
        """Make a record that knows every key and requires only what all variants require."""
        every = [record.rows for record in self.records.values()]
        rows = {
            key: Row(row.kind, all(key in other and other[key].required for other in every), _CHECKED_ONLY)
            for rows in every
            for key, row in rows.items()
        }
        return Record(lambda: None, rows)


@dataclass(frozen=True)
class Entries(Generic[T]):
    """A mapping from ids to at least `least` records; `section` is where the ids are declared for references."""

    record: Record[T] | Variant[T]
    section: str | None = None
    least: int = 0

    def read(self, node: YamlNode, notes: Notes) -> dict[str, T]:
        """Return the records that could be read; ids of broken ones are declared as well."""
        declared = notes.declared.setdefault(self.section, {}) if self.section else {}
        entries = entries_at(node, notes)
        if len(entries) < self.least:
            notes.report(node.at, f"expected at least {self.least} of these, found {len(entries)}")
        result: dict[str, T] = {}
        for key, value in entries.values():
            with suppress(RefusedError):
                name = Id().read(key, notes)
                declared[name] = key.at
                result[name] = self.record.read_named(value, notes, name, key.at)
        return result


def known_keys(kind: object) -> Iterator[str]:
    """List every YAML key that a kind and the kinds inside it know."""
    if isinstance(kind, Record):
        for key, row in kind.rows.items():
            yield key
            yield from known_keys(row.kind)
    inner: Collection[object] = ()
    if isinstance(kind, Variant):
        inner = tuple(kind.records.values())
    elif isinstance(kind, Entries):
        inner = (kind.record,)
    elif isinstance(kind, ListOf):
        inner = (kind.item,)
    elif isinstance(kind, MappingOf):
        inner = (kind.keys, kind.values)
    for part in inner:
        yield from known_keys(part)
