"""Releases of priors as answers."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.cases.release_book import COMMON, InForce, ReleaseBook
from advisor.contract.rates import Rates, compared, named
from advisor.contract.release_answer import (
    BesideOut,
    ComparedOut,
    InForceOut,
    MovedOut,
    ReleaseLine,
    ReleaseList,
    ReleaseOut,
)
from advisor.knowledge.model import PRIORS
from advisor.store.records import ReleaseRow


def line(row: ReleaseRow) -> ReleaseLine:
    """Give a release as a line of a list."""
    verdict = row.content.get("verdict")
    return ReleaseLine(
        id=row.id,
        priors=named(row.name, row.id),
        scope="common" if row.shop == COMMON else "own",
        at=row.at,
        by=row.by,
        verdict=verdict if isinstance(verdict, str) else None,
    )


def whole(row: ReleaseRow) -> ReleaseOut:
    """Give a release with its content."""
    return ReleaseOut(**line(row).model_dump(), content=dict(row.content))


def in_force(book: ReleaseBook, shop: str) -> InForceOut:
    """Give what is in force for a shop; raises StoreError."""
    now: InForce = book.in_force(shop)
    own, common = (named(row.name, row.id) if row else None for row in (now.own, now.common))
    return InForceOut(priors=book.rates(shop).name, own=own, common=common, since=now.since)


def listed(book: ReleaseBook, shop: str) -> ReleaseList:
    """Give the releases that a shop may use; raises StoreError."""
    return ReleaseList(releases=tuple(line(row) for row in book.all(shop)), in_force=in_force(book, shop))


def rates_of(book: ReleaseBook, told: str, shop: str | None) -> Rates:
    """Give the rates of a release by any of its names; raises UnknownReleaseError and StoreError."""
    if told == PRIORS:
        return Rates()
    if "+" in told:
        return book.named(told, shop or COMMON)
    return book.rates_of(book.find(told, shop))


def side_by_side(before: Rates, after: Rates) -> ComparedOut:
    """Give what two releases see differently."""
    rows = (
        MovedOut(circuit=m.circuit, cause=m.cause, before=m.before, after=m.after, ratio=m.ratio)
        for m in compared(before, after)
    )
    minutes, slips = (
        _beside(one, two)
        for one, two in (
            (before.learned.minutes, after.learned.minutes),
            (before.learned.slips, after.learned.slips),
        )
    )
    return ComparedOut(before=before.name, after=after.name, moved=tuple(rows), minutes=minutes, slips=slips)


def _beside(before: Mapping[str, float], after: Mapping[str, float]) -> tuple[BesideOut, ...]:
    rows = [(name, before.get(name), after.get(name)) for name in sorted({*before, *after})]
    return tuple(BesideOut(name=name, before=one, after=two) for name, one, two in rows if one != two)
