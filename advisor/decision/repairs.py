"""What can be done about causes: the circuit's own repairs, and one of each part's type for the rest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.knowledge.documents import Schematic
from advisor.knowledge.places import cautions_at, path
from advisor.knowledge.spares import Bought, bought, spares_for
from advisor.knowledge.wiring import Item, Wiring

VERIFY_MINUTES = 5.0
"""Proving a repair by the complaint's own test [min]: common practice, no source."""


@dataclass(frozen=True)
class RepairPlan:
    """A repair: causes that it restores, minutes with the place open, price with coding [money], where, what to buy."""

    id: str
    title: str
    restores: frozenset[str]
    minutes: float
    price: float
    place: str
    cautions: tuple[str, ...] = ()
    spares: tuple[Bought, ...] = ()


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
    spares = spares_for(schematic.spares, group)
    price = _priced(spares, template.price if item.price is None else item.price) + template.coding
    title = template.title.replace("{part}", name)
    cautions = _cautions(schematic, item.place, _safety(item.type.cautions, template.coding))
    return RepairPlan(f"repair-{group}", title, restores, template.minutes, price, item.place, cautions, spares)


def _written(schematic: Schematic, id: str) -> RepairPlan:
    repair, types = schematic.repairs[id], schematic.library.types
    spares = tuple(b for part in repair.parts for b in bought(schematic.spares, part.number))
    unlisted = sum(part.price for part in repair.parts if part.number not in schematic.spares)
    price = _priced(spares, 0.0) + unlisted + repair.coding
    parts = [schematic.parts[name] for cause in repair.restores if (name := cause.split("/")[0]) in schematic.parts]
    own = (*repair.cautions, *(caution for part in parts for caution in types[part.type].cautions))
    cautions = _cautions(schematic, repair.place, _safety(own, repair.coding))
    return RepairPlan(
        id, repair.title, frozenset(repair.restores), repair.minutes, price, repair.place, cautions, spares
    )


def _priced(spares: Sequence[Bought], otherwise: float) -> float:
    """What is bought today costs [money], or what is taken where the list has nothing."""
    return sum(b.spare.price or 0.0 for b in spares) if spares else otherwise


def _cautions(schematic: Schematic, place: str, own: Sequence[str]) -> tuple[str, ...]:
    """A repair's own cautions and its parts', those of its place, and that of a restraint beside it."""
    there = path(schematic.places, place)
    restraint = ["restraint"] if any(schematic.places[name].restraint for name in there) else []
    return tuple(dict.fromkeys((*own, *restraint, *cautions_at(schematic.places, place))))


def _safety(cautions: tuple[str, ...], coding: float) -> tuple[str, ...]:
    """Cautions of a repair; who buys a part that must be coded is told so."""
    return (*cautions, "coding") if coding else cautions
