"""The list of spare parts, format spares/1: numbers, what replaces them, prices with their day."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date

from advisor.knowledge.documents import Address, Spare
from advisor.knowledge.fields import Entries, Record, checked_only, optional, required
from advisor.knowledge.kinds import Choice, Flag, Id, ListOf, Number, Text, found, scalar_at
from advisor.knowledge.notes import Notes, RefusedError, suggestion
from advisor.knowledge.yaml_nodes import YamlMap, YamlNode

FORMAT = "spares/1"
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True)
class SparesFile:
    """What spares/1 says; what could not be read is left out."""

    title: str = ""
    currency: str = ""
    spares: Mapping[str, Spare] = field(default_factory=dict)

    @property
    def priced(self) -> dict[str, Spare]:
        """The numbers with the file's currency."""
        return {number: replace(spare, currency=self.currency) for number, spare in self.spares.items()}


class Day:
    """A day of the calendar, as in 2026-03-01."""

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the day as written."""
        text = scalar_at(node, notes, "a day").text
        with suppress(ValueError):
            if _DAY.fullmatch(text):
                return date.fromisoformat(text).isoformat()
        notes.refuse(node.at, f"expected a day such as 2026-03-01, found {found(node)}")


class Currency:
    """Three capital letters, as in ISO 4217."""

    def read(self, node: YamlNode, notes: Notes) -> str:
        """Return the letters."""
        text = Text().read(node, notes)
        if not re.fullmatch("[A-Z]{3}", text):
            notes.refuse(node.at, f"expected three capital letters such as EUR, found {text!r}")
        return text


def _check_spare(node: YamlMap, spare: Spare, notes: Notes) -> None:
    if spare.price is None and not spare.replaced_by:
        notes.report(spare.at, f"{spare.number!r} is a dead end: it has no price and nothing replaces it")
    if (spare.price is None) == bool(spare.on):
        at = (node.find("on") or node.find("price") or node).at
        notes.report(at, f"{spare.number!r} needs price and day together: what it costs, and since when that is known")


def _spare(  # noqa: PLR0913, PLR0917  one argument per key of the file
    id: str,
    at: Address,
    title: str,
    price: float | None = None,
    on: str = "",
    used_for: tuple[str, ...] = (),
    replaced_by: tuple[str, ...] = (),
    fits: bool = True,
) -> Spare:
    return Spare(id, title, at, price, on, "", used_for, replaced_by, fits)


SPARE = Record(
    _spare,
    {
        "title": required(Text()),
        "price": optional(Number(least=0)),
        "on": optional(Day()),
        "used_for": optional(ListOf(Id(), unique=True)),
        "replaced_by": optional(ListOf(Id(), least=1, unique=True)),
        "fits": optional(Flag()),
    },
    check=_check_spare,
)
SPARES = Record(
    SparesFile,
    {
        "format": checked_only(Choice((FORMAT,))),
        "title": required(Text()),
        "invented": checked_only(Flag(), required=False),
        "currency": required(Currency()),
        "spares": required(Entries(SPARE, section="spares")),
    },
    lenient=True,
)


def spares_file(node: YamlNode | None, notes: Notes) -> SparesFile:
    """Read a list of spare parts; problems go to `notes`, unknown numbers and loops among them."""
    if node is None:
        return SparesFile()
    with suppress(RefusedError):
        read = SPARES.read(node, notes)
        assert isinstance(node, YamlMap)  # else it was refused
        for spare in read.spares.values():
            _check_replaced(node, spare, read.spares, notes)
        return read
    return SparesFile()


def _check_replaced(node: YamlMap, spare: Spare, spares: Mapping[str, Spare], notes: Notes) -> None:
    at = (node.find("spares", spare.number, "replaced_by") or node).at
    declared = notes.declared.get("spares", {})
    for number in spare.replaced_by:
        if number not in declared:
            notes.report(at, f"unknown number {number!r}, {suggestion(number, declared)}")
    if _leads_to(spare.number, spare.replaced_by, spares):
        notes.report(at, f"{spare.number!r} is, over others, replaced by itself")


def _leads_to(number: str, after: tuple[str, ...], spares: Mapping[str, Spare]) -> bool:
    """Tell whether a number is among those that come after it."""
    seen: set[str] = set()
    waiting = list(after)
    while waiting:
        here = waiting.pop()
        if here == number:
            return True
        if here in spares and here not in seen:
            seen.add(here)
            waiting += spares[here].replaced_by
    return False
