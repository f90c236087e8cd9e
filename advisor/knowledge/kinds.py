"""Kinds of values in model files: text, names, numbers in a range, references, lists, mappings.

A kind reads one node into a value; where it cannot, it notes the problem and raises RefusedError.
"""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass
from typing import Generic, NoReturn, Protocol, TypeVar

from advisor.knowledge.notes import Notes, Reference, RefusedError, suggestion
from advisor.knowledge.yaml_nodes import YamlList, YamlMap, YamlNode, YamlRefused, YamlScalar

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)

ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9+-]*")


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
        scalar = scalar_at(node, notes, "a text")
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
        scalar = scalar_at(node, notes, "a name")
        if isinstance(scalar.value, bool) or scalar.value is None or not ID.fullmatch(scalar.text):
            notes.refuse(node.at, f"expected a name of letters, digits, + and -, found {found(node)}")
        return scalar.text


@dataclass(frozen=True)
class Flag:
    """True or false."""

    def read(self, node: YamlNode, notes: Notes) -> bool:
        """Return the flag."""
        scalar = scalar_at(node, notes, "true or false")
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
        value = scalar_at(node, notes, self.expects).value
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
        value = scalar_at(node, notes, expects).value
        if isinstance(value, bool) or not isinstance(value, int) or not self.least <= value <= self.most:
            notes.refuse(node.at, f"expected {expects}, found {found(node)}")
        return value


@dataclass(frozen=True)
class Choice:
    """One of a few fixed words."""

    words: tuple[str, ...]

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the word."""
        text = scalar_at(node, notes, f"one of: {', '.join(self.words)}").text
        if text not in self.words:
            notes.refuse(node.at, f"found {found(node)}, {suggestion(text, self.words)}")
        return text


@dataclass(frozen=True)
class To:
    """The name of something defined elsewhere; `kind` says of what, as it is called in problems."""

    kind: str

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the name and note the reference."""
        scalar = scalar_at(node, notes, f"the name of a {self.kind}")
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
        entries = entries_at(node, notes)
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


def scalar_at(node: YamlNode, notes: Notes, expects: str) -> YamlScalar:
    """Return the node as a single value, or refuse it."""
    if not isinstance(node, YamlScalar):
        _refuse_unless_reported(node, notes, f"expected {expects}, found {found(node)}")
    return node


def entries_at(node: YamlNode, notes: Notes) -> dict[str, tuple[YamlScalar, YamlNode]]:
    """Return the entries of the node as a mapping, or refuse it."""
    if not isinstance(node, YamlMap):
        _refuse_unless_reported(node, notes, f"expected a mapping, found {found(node)}")
    return node.entries


def _refuse_unless_reported(node: YamlNode, notes: Notes, message: str) -> NoReturn:
    if isinstance(node, YamlRefused):
        raise RefusedError(message)
    notes.refuse(node.at, message)
