"""Releases of priors in a store: added, put in force for a shop or for all, taken back, and found again by name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from advisor.contract.engine import Engine
from advisor.contract.nearest import unknown
from advisor.contract.priors import PriorsRelease, priors_of
from advisor.contract.rates import DIGITS, Rates, named, parts_of
from advisor.contract.service import known_model
from advisor.errors import (
    NotInForceError,
    RequestError,
    RequestProblem,
    StoreError,
    UnknownModelError,
    UnknownReleaseError,
)
from advisor.knowledge.model import PRIORS
from advisor.store.records import Activation, ReleaseRow
from advisor.store.releases import Releases
from advisor.store.store import Store

COMMON = ""
"""Whose what all shops use is, unless they have their own."""
HASH = "sha256:"


@dataclass(frozen=True)
class InForce:
    """What is in force for a shop: its own release and the common one behind it, None for the library's priors."""

    own: ReleaseRow | None
    common: ReleaseRow | None
    since: datetime | None


@dataclass(frozen=True)
class ReleaseBook:
    """Releases in a store; `now` is the clock [UTC].

    Rates once read are kept, since a release never changes; what is in force is asked each time, and where the store
    does not answer, what was in force last stays so.
    """

    store: Store
    now: Callable[[], datetime]
    kept: dict[tuple[str, str], Rates] = field(default_factory=dict)
    last: dict[str, Rates] = field(default_factory=dict)

    def add(self, release: PriorsRelease, engine: Engine, shop: str, by: str) -> ReleaseRow:
        """Add a release for a shop, or for all; raises RequestError for causes that no circuit has, and StoreError."""
        wrong = list(_strangers(release, engine))
        if wrong:
            raise RequestError(wrong)
        row = ReleaseRow(release.id, release.file.name, shop, self.now(), by, release.content)
        self.store.writing(lambda connection: Releases(connection).add(row))
        return self.find(release.id, shop)

    def all(self, shop: str | None) -> tuple[ReleaseRow, ...]:
        """Give a shop's releases and the common ones, of all shops if none is named; raises StoreError."""
        return self.store.reading(lambda connection: Releases(connection).all(_seen(shop)))

    def find(self, told: str, shop: str | None) -> ReleaseRow:
        """Give a release by its id, the first digits of it, or NAME@DIGITS; raises UnknownReleaseError, StoreError."""
        rows = self.all(shop)
        found = [row for row in rows if _is(row, told)]
        if len({row.id for row in found}) != 1:
            names = [named(row.name, row.id) for row in rows]
            what = unknown("release", told, names) if not found else f"several releases are called {told}; use the id"
            raise UnknownReleaseError(what)
        return max(found, key=lambda row: row.shop)

    def activate(self, told: str | None, shop: str, by: str) -> InForce:
        """Put a release in force for a shop, or the library's priors; raises UnknownReleaseError and StoreError."""
        row = None if told in (None, PRIORS) else self.find(told or "", shop)
        done = Activation(shop, row.id if row else None, False, self.now(), by)

        def work(releases: Releases) -> None:
            """Activate it, unless it is in force."""
            stack = _stack(releases.activations([shop]), shop)
            if not stack or stack[-1].release != done.release:
                releases.activate(done)

        self.store.writing(lambda connection: work(Releases(connection)))
        return self.in_force(shop)

    def roll_back(self, shop: str, by: str, leaving: str | None = None) -> InForce:
        """Put in force what was so before, if what is left is what is in force still.

        Raises:
            NotInForceError: nothing was put in force, or something else is by now.
            StoreError.
        """
        done, seen, now = Activation(shop, None, True, self.now(), by), self.history(shop), self.rates(shop).name
        if not _stack(seen, shop):
            raise NotInForceError("there is nothing to go back from: no release was put in force here")
        if leaving not in (None, now):
            raise NotInForceError(f"{leaving} is not in force; {now} is")

        def work(releases: Releases) -> None:
            """Go back one step, unless somebody else has done so."""
            if releases.activations([shop]) != seen:
                raise NotInForceError("another release was put in force meanwhile")
            releases.activate(done)

        self.store.writing(lambda connection: work(Releases(connection)))
        return self.in_force(shop)

    def history(self, *shops: str) -> tuple[Activation, ...]:
        """Give what was put in force for some shops, in order; raises StoreError."""
        return self.store.reading(lambda connection: Releases(connection).activations(shops))

    def in_force(self, shop: str) -> InForce:
        """Say what is in force for a shop; raises StoreError."""
        tops = self._tops(shop)
        own, common = (self.find(done.release, shop) if done and done.release else None for done in tops)
        return InForce(own, common, max((done.at for done in tops if done), default=None))

    def rates(self, shop: str) -> Rates:
        """Give the rates in force for a shop, those of last time where the store does not answer.

        A shop that has put the library's priors in force does not want the common ones either.
        """
        try:
            own, common = self._tops(shop)
            base = self._rates(common, COMMON)
            self.last[shop] = base if own is None else self._rates(own, shop).over(base) if own.release else Rates()
        except StoreError:
            return self.last.get(shop, Rates())
        return self.last[shop]

    def named(self, priors: str, shop: str) -> Rates:
        """Give the rates that an answer names; raises UnknownReleaseError, StoreError."""
        rates = Rates()
        for digits in reversed(parts_of(priors)):
            start = HASH + digits
            known = (r for (whose, id), r in self.kept.items() if whose in (shop, COMMON) and id.startswith(start))
            rates = (next(known, None) or self._read(self.find(start, shop))).over(rates)
        return rates

    def _tops(self, shop: str) -> tuple[Activation | None, Activation | None]:
        """What is in force for a shop alone, and for all; what is for all is nobody's own."""
        history = self.history(shop, COMMON)
        own, common = _stack(history, shop) if shop != COMMON else [], _stack(history, COMMON)
        return (own[-1] if own else None), (common[-1] if common else None)

    def rates_of(self, row: ReleaseRow) -> Rates:
        """Give the rates of a release."""
        return self.kept.get((row.shop, row.id)) or self._read(row)

    def _rates(self, done: Activation | None, shop: str) -> Rates:
        if done is None or done.release is None:
            return Rates()
        own, common = self.kept.get((shop, done.release)), self.kept.get((COMMON, done.release))
        return own or common or self._read(self.find(done.release, shop))

    def _read(self, row: ReleaseRow) -> Rates:
        rates = self.kept[row.shop, row.id] = priors_of(dict(row.content)).rates
        return rates


def _seen(shop: str | None) -> tuple[str, ...] | None:
    return None if shop is None else (shop, COMMON)


def _is(row: ReleaseRow, told: str) -> bool:
    name, _, digits = told.rpartition("@")
    return (
        row.id.removeprefix(HASH).startswith(digits.removeprefix(HASH))
        and len(digits.removeprefix(HASH)) >= DIGITS
        and name in ("", row.name)
    )


def _stack(history: Sequence[Activation], shop: str) -> list[Activation]:
    """What was in force for a shop, one upon the other; the last is in force now."""
    stack: list[Activation] = []
    for done in history:
        if done.shop != shop:
            continue
        if done.back:
            del stack[-1:]
        else:
            stack.append(done)
    return stack


def _strangers(release: PriorsRelease, engine: Engine) -> list[RequestProblem]:
    """List the circuits and causes of a release that are not on the shelf."""
    found: list[RequestProblem] = []
    for circuit, causes in release.file.factors.items():
        where = f"#/factors/{circuit}"
        try:
            known = known_model(circuit, engine).cause_ids
        except UnknownModelError as error:
            found.append(RequestProblem(where, str(error)))
            continue
        found += [
            RequestProblem(f"{where}/{cause.replace('/', '~1')}", unknown("cause", cause, known))
            for cause in causes
            if cause not in known
        ]
    return found
