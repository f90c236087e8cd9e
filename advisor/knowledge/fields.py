"""The small language in which model files are described: kinds of values, rows, records.

A file format is a table of rows, one per YAML key (`read_library.py`, `items.py`, ...); adding a key is adding a
row.  A kind reads one node into a value; where it cannot, it notes the problem and raises RefusedError, and the
record around it goes on with its other rows, so that all problems are found at once.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Generic, NoReturn, Protocol, TypeVar

from advisor.knowledge.documents import Address
from advisor.knowledge.notes import Notes, Reference, RefusedError, nearest, suggestion
from advisor.knowledge.yaml_nodes import YamlList, YamlMap, YamlNode, YamlRefused, YamlScalar

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9+-]*")
_CHECKED_ONLY = ""


class Kind(Protocol[T_co]):
    """A kind of value: reads a node or notes the problem and raises RefusedError."""

    def read(self, node: YamlNode, notes: Notes) -> T_co:
        """Return the node's value."""


@dataclass(frozen=True)
class Text:
    """A text that is not empty, such as a title or a source."""

    longest: int = 1000

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the text."""
        scalar = _scalar(node, notes, "a text")
        if not isinstance(scalar.value, str) or not scalar.value.strip():
            notes.refuse(node.at, f"expected a text, found {found(node)}; put it in quotes if it is meant as text")
        if len(scalar.value) > self.longest:
            notes.refuse(node.at, f"expected a text of at most {self.longest} characters, found {len(scalar.value)}")
        return scalar.value


@dataclass(frozen=True)
class Id:
    """A name made of letters, digits, + and -; numbers count by their digits."""

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the name as text."""
        scalar = _scalar(node, notes, "a name")
        if isinstance(scalar.value, bool) or scalar.value is None or not _ID.fullmatch(scalar.text):
            notes.refuse(node.at, f"expected a name of letters, digits, + and -, found {found(node)}")
        return scalar.text


@dataclass(frozen=True)
class Flag:
    """True or false."""

    def read(self, node: YamlNode, notes: Notes) -> bool:
        """Return the flag."""
        scalar = _scalar(node, notes, "true or false")
        if not isinstance(scalar.value, bool):
            notes.refuse(node.at, f"expected true or false, found {found(node)}")
        return scalar.value


@dataclass(frozen=True)
class Number:
    """A finite number in a range: `least` and `most` are allowed values, `above` is not."""

    least: float | None = None
    above: float | None = None
    most: float | None = None

    @property
    def expects(self) -> str:
        """Describe the range."""
        bounds = (("of at least", self.least), ("above", self.above), ("up to", self.most))
        return " ".join(["a number", *(f"{word} {bound:g}" for word, bound in bounds if bound is not None)])

    def read(self, node: YamlNode, notes: Notes) -> float:
        """Return the number."""
        value = _scalar(node, notes, self.expects).value
        if isinstance(value, bool) or not isinstance(value, int | float) or not self._holds(value):
            notes.refuse(node.at, f"expected {self.expects}, found {found(node)}")
        return float(value)

    def _holds(self, value: float) -> bool:
        low = (self.least is None or value >= self.least) and (self.above is None or value > self.above)
        return low and (self.most is None or value <= self.most)


@dataclass(frozen=True)
class Whole:
    """A whole number in a range."""

    least: int
    most: int

    def read(self, node: YamlNode, notes: Notes) -> int:
        """Return the whole number."""
        expects = f"a whole number from {self.least} to {self.most}"
        value = _scalar(node, notes, expects).value
        if isinstance(value, bool) or not isinstance(value, int) or not self.least <= value <= self.most:
            notes.refuse(node.at, f"expected {expects}, found {found(node)}")
        return value


@dataclass(frozen=True)
class Choice:
    """One of a few fixed words."""

    words: tuple[str, ...]

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the word."""
        text = _scalar(node, notes, f"one of: {', '.join(self.words)}").text
        if text not in self.words:
            notes.refuse(node.at, f"found {found(node)}, {suggestion(text, self.words)}")
        return text


@dataclass(frozen=True)
class To:
    """The name of something defined elsewhere; `kind` says of what, as it is called in problems."""

    kind: str

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the name and note the reference."""
        scalar = _scalar(node, notes, f"the name of a {self.kind}")
        if isinstance(scalar.value, bool) or not scalar.text:
            notes.refuse(node.at, f"expected the name of a {self.kind}, found {found(node)}")
        notes.references.append(Reference(self.kind, scalar.text, node.at))
        return scalar.text


@dataclass(frozen=True)
class ListOf(Generic[T]):
    """A list of one kind, with at least `least` items, none of them twice where `unique`."""

    item: Kind[T]
    least: int = 0
    unique: bool = False

    def read(self, node: YamlNode, notes: Notes) -> tuple[T, ...]:
        """Return the items."""
        if not isinstance(node, YamlList):
            _refuse_unless_reported(node, notes, f"expected a list, found {found(node)}")
        if len(node.items) < self.least:
            notes.refuse(node.at, f"expected a list of at least {self.least}, found {len(node.items)}")
        values: list[T] = []
        for item in node.items:
            with suppress(RefusedError):
                value = self.item.read(item, notes)
                if self.unique and value in values:
                    notes.report(item.at, f"{value!r} stands in this list twice")
                values.append(value)
        if len(values) < len(node.items):
            raise RefusedError("an item was refused")
        return tuple(values)


@dataclass(frozen=True)
class MappingOf(Generic[T]):
    """A mapping from names of one kind to values of one kind."""

    keys: Kind[str]
    values: Kind[T]

    def read(self, node: YamlNode, notes: Notes) -> dict[str, T]:
        """Return the values by name."""
        entries = _entries(node, notes)
        result: dict[str, T] = {}
        for key, value in entries.values():
            with suppress(RefusedError):
                name = self.keys.read(key, notes)
                if name in result:
                    notes.refuse(key.at, f"{key.text!r} stands in this mapping twice")
                result[name] = self.values.read(value, notes)
        if len(result) < len(entries):
            raise RefusedError("an entry was refused")
        return result


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
        entries = _entries(node, notes)
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
    """A mapping from ids to records; `section` is where the ids are declared for references."""

    record: Record[T] | Variant[T]
    section: str | None = None

    def read(self, node: YamlNode, notes: Notes) -> dict[str, T]:
        """Return the records that could be read; ids of broken ones are declared as well."""
        declared = notes.declared.setdefault(self.section, {}) if self.section else {}
        result: dict[str, T] = {}
        for key, value in _entries(node, notes).values():
            with suppress(RefusedError):
                name = Id().read(key, notes)
                declared[name] = key.at
                result[name] = self.record.read_named(value, notes, name, key.at)
        return result


def found(node: YamlNode) -> str:
    """Describe what stands at a node."""
    if isinstance(node, YamlList):
        return "a list"
    if isinstance(node, YamlMap):
        return "a mapping"
    if isinstance(node, YamlRefused) or node.value is None:
        return "nothing"
    shown = node.text if len(node.text) <= 60 else node.text[:57] + "..."
    return f"the text {shown!r}" if isinstance(node.value, str) else shown


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


def _scalar(node: YamlNode, notes: Notes, expects: str) -> YamlScalar:
    if not isinstance(node, YamlScalar):
        _refuse_unless_reported(node, notes, f"expected {expects}, found {found(node)}")
    return node


def _entries(node: YamlNode, notes: Notes) -> dict[str, tuple[YamlScalar, YamlNode]]:
    if not isinstance(node, YamlMap):
        _refuse_unless_reported(node, notes, f"expected a mapping, found {found(node)}")
    return node.entries


def _refuse_unless_reported(node: YamlNode, notes: Notes, message: str) -> NoReturn:
    if isinstance(node, YamlRefused):
        raise RefusedError(message)
    notes.refuse(node.at, message)
