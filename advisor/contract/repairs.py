"""A repair and what is bought for it, as an answer tells them."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.contract.cautions import Caution, cautions
from advisor.contract.frozen import Answered
from advisor.decision.advice import RepairShare
from advisor.knowledge.documents import Schematic
from advisor.knowledge.spares import Bought


class SpareOut(Answered):
    """A number as it is bought today: its price [money], of which day, and the older numbers that would still fit."""

    number: str
    title: str
    price: float
    currency: str
    on: str
    older: tuple[str, ...]


class RepairOut(Answered):
    """A repair in the order in which it would be tried."""

    repair: str
    title: str
    minutes: float
    cost: float
    probability: float
    cautions: tuple[Caution, ...]
    spares: tuple[SpareOut, ...]


def spares_out(bought: Iterable[Bought]) -> tuple[SpareOut, ...]:
    """Word what is bought."""
    return tuple(
        SpareOut(
            number=b.spare.number,
            title=b.spare.title,
            price=b.spare.price or 0.0,
            currency=b.spare.currency,
            on=b.spare.on,
            older=b.older,
        )
        for b in bought
    )


def spare_line(spare: SpareOut) -> str:
    """Say a number with its price and the older ones that would still fit."""
    older = f", or one of {', '.join(spare.older)} from the shelf" if spare.older else ""
    return f"{spare.number} {spare.title}, {spare.price:.2f} {spare.currency} on {spare.on}{older}"


def repair_out(schematic: Schematic, share: RepairShare) -> RepairOut:
    """Word a repair."""
    return RepairOut(
        repair=share.repair,
        title=share.title,
        minutes=share.minutes,
        cost=share.cost,
        probability=share.probability,
        cautions=cautions(share.cautions, schematic.library),
        spares=spares_out(share.spares),
    )
