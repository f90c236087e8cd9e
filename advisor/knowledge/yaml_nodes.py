"""YAML with addresses: every node knows its file, line and column.

Built on PyYAML's event stream rather than on its loaders: scalars follow the YAML 1.2 core schema, so that
`off`, `no` and `1:20` stay text; anchors, aliases, tags, duplicate keys, deep nesting and large files are refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Protocol

import yaml

from advisor.errors import Problem
from advisor.knowledge.documents import Address

MAX_BYTES = 1_000_000
MAX_DEPTH = 20
_KEEP_FILES = 32
"""Files of which the nodes are kept, by their text: a vehicle of some twelve circuits with their charts."""

# YAML 1.2.2, section 10.3.2, "Tag Resolution" of the core schema.
_NULL = re.compile(r"null|Null|NULL|~|")
_BOOL = re.compile(r"true|True|TRUE|false|False|FALSE")
_INT = re.compile(r"[-+]?[0-9]{1,40}|0o[0-7]{1,40}|0x[0-9a-fA-F]{1,40}")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")


@dataclass(frozen=True)
class YamlScalar:
    """A single value: its text as written and what the core schema makes of it."""

    at: Address
    text: str
    value: str | int | float | bool | None


@dataclass(frozen=True)
class YamlList:
    """A list of nodes."""

    at: Address
    items: tuple[YamlNode, ...]


@dataclass(frozen=True)
class YamlMap:
    """A mapping: the text of each key to the key's own node and the value."""

    at: Address
    entries: dict[str, tuple[YamlScalar, YamlNode]]

    def find(self, *keys: str) -> YamlNode | None:
        """Return the node that stands under a path of keys, if there is one."""
        node: YamlNode = self
        for key in keys:
            if not isinstance(node, YamlMap) or key not in node.entries:
                return None
            node = node.entries[key][1]
        return node


@dataclass(frozen=True)
class YamlRefused:
    """A value that was already reported, so that nobody reports it twice."""

    at: Address


QUICK = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
YamlNode = YamlScalar | YamlList | YamlMap | YamlRefused


def load_yaml(path: Path) -> tuple[YamlNode | None, list[Problem]]:
    """Read one YAML file; the node is None where its syntax allows none, and every problem is listed."""
    file = str(path)
    try:
        if not path.is_file():
            return None, [Problem(file, 1, 1, "there is no such file")]
        with path.open("rb") as stream:
            content = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        return None, [Problem(file, 1, 1, f"the file cannot be read: {getattr(error, 'strerror', None) or error}")]
    if len(content) > MAX_BYTES:
        return None, [Problem(file, 1, 1, f"the file is larger than {MAX_BYTES} bytes")]
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start]
        column = error.start - (before.rfind(b"\n") + 1) + 1
        return None, [Problem(file, before.count(b"\n") + 1, column, "the file is not UTF-8 text")]
    node, problems = _parsed(file, text)
    return node, list(problems)


@lru_cache(maxsize=_KEEP_FILES)
def _parsed(file: str, text: str) -> tuple[YamlNode | None, tuple[Problem, ...]]:
    """The node and problems of a text: the circuits of a vehicle follow the same files, and each reads its neighbours.

    libyaml is ten times as quick; what it does not read clean is told in the words and places of the plain reader.
    """
    for loader in (QUICK, yaml.SafeLoader):
        node, problems = _Builder(file, text, loader).build()
        if node is not None and not problems:
            break
    return node, tuple(problems)


class _Mark(Protocol):
    """A place in the text, counted from 0."""

    line: int
    column: int


class _Builder:
    """Turns the events of one document into nodes and collects what is wrong."""

    def __init__(self, file: str, text: str, loader: Any) -> None:  # noqa: ANN401 # Any: PyYAML types none of them
        self.file = file
        self.text = text
        self.loader = loader
        self.problems: list[Problem] = []
        self.at = Address(file, 1, 1)

    def build(self) -> tuple[YamlNode | None, list[Problem]]:
        """Return the document's node with the problems met on the way."""
        try:
            return self._document(self._events()), self.problems
        except yaml.reader.ReaderError as error:
            before = self.text[: error.position]
            column = error.position - (before.rfind("\n") + 1) + 1
            message = f"the character {chr(error.character)!a} is not allowed in YAML"
            self.problems.append(Problem(self.file, before.count("\n") + 1, column, message))
        except yaml.MarkedYAMLError as error:
            self._report(*self._syntax_problem(error))
        except (ValueError, OverflowError):
            # PyYAML converts escapes such as "\UFFFFFFFF" and version numbers without a check of their size.
            self._report(self.at, "not YAML: an escape or a number near here is out of range")
        return None, self.problems

    def _events(self) -> Iterator[yaml.Event]:
        for event in yaml.parse(self.text, Loader=self.loader):
            self.at = self._address(event.start_mark)
            yield event

    def _document(self, events: Iterator[yaml.Event]) -> YamlNode | None:
        node: YamlNode | None = None
        for event in events:
            if isinstance(event, yaml.NodeEvent) and node is None:
                node = self._node(event, events, depth=1)
            elif isinstance(event, yaml.DocumentStartEvent) and node is not None:
                self._report(self.at, "a second document starts here, expected one document per file")
                break
        if node is None:
            self.problems.append(
                Problem(self.file, 1, 1, "the file is empty, expected a mapping that starts with format:")
            )
        return node

    def _node(self, event: yaml.NodeEvent, events: Iterator[yaml.Event], depth: int) -> YamlNode:
        at = self._address(event.start_mark)
        if isinstance(event, yaml.AliasEvent):
            self._report(at, f"alias *{event.anchor} is refused, write the value out")
            return YamlRefused(at)
        if event.anchor is not None:
            self._report(at, f"anchor &{event.anchor} is refused, write the value out where it is used")
        tag = getattr(event, "tag", None)
        if tag is not None:
            self._report(at, f"tag {tag} is refused, plain and quoted values need none")
        if isinstance(event, yaml.ScalarEvent):
            return self._scalar(event, at)
        if depth > MAX_DEPTH:
            raise yaml.MarkedYAMLError(problem=f"nested deeper than {MAX_DEPTH} levels")
        if isinstance(event, yaml.SequenceStartEvent):
            return YamlList(at, tuple(self._node(item, events, depth + 1) for item in _until_end(events)))
        return YamlMap(at, self._entries(events, depth))

    def _entries(self, events: Iterator[yaml.Event], depth: int) -> dict[str, tuple[YamlScalar, YamlNode]]:
        entries: dict[str, tuple[YamlScalar, YamlNode]] = {}
        for event in _until_end(events):
            key = self._node(event, events, depth + 1)
            value = self._node(next(events), events, depth + 1)  # type: ignore[arg-type]  # a key's event is followed by its value's
            if isinstance(key, YamlList | YamlMap):
                self._report(key.at, "a key must be a single name, not a list or a mapping")
            elif isinstance(key, YamlScalar) and key.text in entries:
                first = entries[key.text][0].at
                message = f"duplicate key {key.text!r}, also at line {{}}; keep one of the two"
                self._report(key.at, message.format(first.line))
                self._report(first, message.format(key.at.line))
            elif isinstance(key, YamlScalar):
                entries[key.text] = (key, value)
        return entries

    def _scalar(self, event: yaml.ScalarEvent, at: Address) -> YamlNode:
        text = event.value
        problem = None
        if _CONTROL.search(text):
            problem = "control characters are refused in values"
        elif not event.style and _NOT_FINITE.fullmatch(text):
            problem = f"{text} is not a finite number"
        value = text if problem or event.style else _core_value(text)
        if isinstance(value, float) and not math.isfinite(value):
            problem = "the number is too large"
        if problem is None:
            return YamlScalar(at, text, value)
        self._report(at, problem)
        return YamlRefused(at)

    def _syntax_problem(self, error: yaml.MarkedYAMLError) -> tuple[Address, str]:
        """Choose the mark that helps: the start of an unfinished key or quote, else where parsing stopped."""
        started = error.context is not None and ("simple key" in error.context or "quoted scalar" in error.context)
        mark = error.context_mark if started and error.context_mark else error.problem_mark
        said = " ".join(part for part in (error.problem, error.context) if part)
        if "mapping values are not allowed" in said:
            said = "a ':' is not allowed here; is one missing in the line before, or should the text be in quotes?"
        return self._address(mark), f"not YAML: {said}"

    def _report(self, at: Address, message: str) -> None:
        self.problems.append(Problem(at.file, at.line, at.column, message))

    def _address(self, mark: _Mark | None) -> Address:
        return Address(self.file, mark.line + 1, mark.column + 1) if mark else self.at


def _until_end(events: Iterator[yaml.Event]) -> Iterator[yaml.NodeEvent]:
    """Give the events that start an item of the collection, up to its end."""
    for event in events:
        if isinstance(event, yaml.CollectionEndEvent):
            return
        assert isinstance(event, yaml.NodeEvent)  # the parser nests nothing else
        yield event


def _core_value(text: str) -> str | int | float | bool | None:
    """Resolve a plain scalar by the YAML 1.2 core schema."""
    if _NULL.fullmatch(text):
        return None
    if _BOOL.fullmatch(text):
        return text.lower() == "true"
    if _INT.fullmatch(text):
        return int(text, 0) if text[:2] in ("0o", "0x") else int(text)
    if _FLOAT.fullmatch(text):
        return float(text)
    return text
