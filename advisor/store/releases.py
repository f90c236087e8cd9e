"""Releases of priors and their activations, inside one transaction."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import Connection, insert, select

from advisor.store import tables
from advisor.store.records import Activation, ReleaseRow

_RELEASES, _ACTIVATIONS = tables.RELEASES.c, tables.ACTIVATIONS.c


class Releases:
    """Releases within a transaction; a release of the empty shop is everybody's."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, row: ReleaseRow) -> None:
        """Add a release; one with this content that the shop has already stays as it is."""
        same = select(_RELEASES.id).where(_RELEASES.id == row.id, _RELEASES.shop == row.shop)
        if self._connection.execute(same).first() is None:
            self._connection.execute(insert(tables.RELEASES), vars(row))

    def all(self, shops: Collection[str] | None = None, start: str = "") -> tuple[ReleaseRow, ...]:
        """Give the releases of some shops, of all if none are named, whose ids start like this, the newest first."""
        asked = select(tables.RELEASES).where(_RELEASES.id.startswith(start, autoescape=True))
        asked = asked if shops is None else asked.where(_RELEASES.shop.in_(shops))
        ordered = asked.order_by(_RELEASES.at.desc(), _RELEASES.id, _RELEASES.shop.desc())
        return tuple(ReleaseRow(**row) for row in self._connection.execute(ordered).mappings())

    def activate(self, done: Activation) -> None:
        """Put a release in force, or go back."""
        row = {"shop": done.shop, "release_id": done.release, "back": done.back, "at": done.at, "by": done.by}
        self._connection.execute(insert(tables.ACTIVATIONS), row)

    def activations(self, shops: Collection[str]) -> tuple[Activation, ...]:
        """Give what was put in force for some shops, in order."""
        columns = (_ACTIVATIONS.shop, _ACTIVATIONS.release_id, _ACTIVATIONS.back, _ACTIVATIONS.at, _ACTIVATIONS.by)
        asked = select(*columns).where(_ACTIVATIONS.shop.in_(shops)).order_by(_ACTIVATIONS.number)
        return tuple(Activation(*row) for row in self._connection.execute(asked))
