"""What can be done about causes: the circuit's own repairs, and one of each part's type for the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.knowledge.documents import Schematic
from advisor.knowledge.wiring import Item, Wiring

VERIFY_MINUTES = 5.0
"""Proving a repair by the complaint's own test [min]: common practice, no source."""


@dataclass(frozen=True)
class RepairPlan:
    """A repair: causes that it restores, minutes with the place open, price of parts and coding [money], where."""

    id: str
    title: str
    restores: frozenset[str]
    minutes: float
    price: float
    place: str
    cautions: tuple[str, ...] = ()


def repair_plans(wiring: Wiring) -> tuple[RepairPlan, ...]:
    """All repairs of a circuit: written ones first, then one per connector's contacts and one per other part."""
    plans = [_written(wiring.schematic, id) for id in wiring.schematic.repairs]
    covered = {cause for plan in plans for cause in plan.restores}
    groups: dict[str, list[Item]] = {}
    for item in wiring.items.values():
        groups.setdefault(_group(item), []).append(item)
    for group, items in groups.items():
        parts = {item.id for item in items}
        left = frozenset(c.id for c in wiring.causes if c.part in parts and c.id not in covered)
        if left:
            plans.append(_typical(wiring.schematic, group, items, left))
    return tuple(plans)


def _group(item: Item) -> str:
    """Contacts are mended a connector at a time."""
    return item.id.split("/")[0]


def _typical(schematic: Schematic, group: str, items: Sequence[Item], restores: frozenset[str]) -> RepairPlan:
    item, template = items[0], items[0].type.repair
    name = schematic.connectors[group].title if group in schematic.connectors else item.title
    price = (template.price if item.price is None else item.price) + template.coding
    title, safety = template.title.replace("{part}", name), _safety((), template.coding)
    return RepairPlan(f"repair-{group}", title, restores, template.minutes, price, item.place, safety)


def _written(schematic: Schematic, id: str) -> RepairPlan:
    repair = schematic.repairs[id]
    price, safety = sum(part.price for part in repair.parts) + repair.coding, _safety(repair.cautions, repair.coding)
    return RepairPlan(id, repair.title, frozenset(repair.restores), repair.minutes, price, repair.place, safety)


def _safety(cautions: tuple[str, ...], coding: float) -> tuple[str, ...]:
    """Cautions of a repair; who buys a part that must be coded is told so."""
    return (*cautions, "coding") if coding else cautions
