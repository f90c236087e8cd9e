"""What one file leaves behind while it is read: problems, declared names and references to check later."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import NoReturn

from advisor.errors import AdvisorError, KnowledgeError, Problem
from advisor.knowledge.documents import Address

# A file with more problems than this is not meant to be a model file; looking for near names would take minutes.
MAX_PROBLEMS = 500


class RefusedError(AdvisorError):
    """A value cannot be used; its problem is noted already. Never leaves the reader."""


@dataclass(frozen=True)
class Reference:
    """A name used in a file, of something that may be defined anywhere: a place, a node, a cause."""

    kind: str
    name: str
    at: Address


@dataclass(frozen=True)
class Condition:
    """Logic text, with the names that it may use besides the controls."""

    text: str
    at: Address
    inputs: Mapping[str, Sequence[str]]


@dataclass
class Notes:
    """Problems, references, conditions and declared names of one file.

    `declared` maps a section to its ids and where they stand, broken entries included; `blind` has the
    sections that could not be read at all, so that nothing is called unknown because of them.
    `part_kinds` is the library's kind of each part type.
    """

    part_kinds: Mapping[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    references: list[Reference] = field(default_factory=list)
    conditions: list[Condition] = field(default_factory=list)
    declared: dict[str, dict[str, Address]] = field(default_factory=dict)
    blind: set[str] = field(default_factory=set)

    @property
    def full(self) -> bool:
        """Whether so many problems are noted that further ones are left out."""
        return len(self.problems) > MAX_PROBLEMS

    def report(self, at: Address, message: str) -> None:
        """Note a problem at an address."""
        if len(self.problems) == MAX_PROBLEMS:
            message = f"further problems are not listed, there are more than {MAX_PROBLEMS}"
        if not self.full:
            self.problems.append(Problem(at.file, at.line, at.column, message))

    def refuse(self, at: Address, message: str) -> NoReturn:
        """Note a problem and give the value up."""
        self.report(at, message)
        raise RefusedError(message)


def raise_problems(notes: Sequence[Notes]) -> None:
    """Raise every problem of several files as one KnowledgeError, if there is any."""
    problems = [problem for note in notes for problem in note.problems]
    if problems:
        raise KnowledgeError(problems)


def suggestion(name: str, valid: Collection[str]) -> str:
    """Say what was expected: the nearest valid name, or the valid names where none is near."""
    near = nearest(name, valid)
    if near is not None:
        return f"did you mean {near!r}?"
    if not valid:
        return "there is none to choose from"
    shown = get_close_matches(name[:80], list(valid)[:500], n=12, cutoff=0.0) if len(valid) > 12 else list(valid)
    return f"expected one of: {', '.join(shown)}{', ...' if len(valid) > len(shown) else ''}"


def nearest(name: str, valid: Collection[str]) -> str | None:
    """Return the valid name that looks most like `name`, if one does."""
    lowered = {known.lower(): known for known in valid}
    close = get_close_matches(name.lower()[:80], lowered, n=1, cutoff=0.6)
    return lowered[close[0]] if close else None
