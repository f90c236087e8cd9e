"""The book of cases: journals in a store, read and written with the rules of the domain."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cached_property
from typing import TypeVar

from advisor.cases.asking import question
from advisor.cases.presenting import amount, present, present_list
from advisor.cases.release_book import ReleaseBook
from advisor.cases.replay import replay
from advisor.cases.state import CaseState
from advisor.cases.writing import first_events, next_events, state_after
from advisor.contract import service
from advisor.contract.answer import Release
from advisor.contract.body import Json, pointer
from advisor.contract.case_answer import CaseAdvice, CaseList, CaseOut
from advisor.contract.case_bodies import Comeback, Moved
from advisor.contract.case_events import CaseIn, EventsIn
from advisor.contract.case_queries import AdviceQuery, CasesQuery
from advisor.contract.case_requests import check_events, check_symptom, parse
from advisor.contract.engine import Engine, KnownModel
from advisor.contract.event import Event, StaleCaseError
from advisor.contract.version import ENGINE_VERSION
from advisor.errors import AdvisorError, KeyReusedError, RequestError, RequestProblem, UnknownCaseError
from advisor.store.journals import Journals
from advisor.store.records import CaseRow, Key, Page, Wanted
from advisor.store.store import Store

SHOP = "shop"
"""The one shop of a store without tokens."""
REUSED = "this idempotency key came before with another request; take a new one"
Journal = tuple[Event, ...]
Sent = TypeVar("Sent", CaseIn, EventsIn)


@dataclass(frozen=True)
class Write:
    """How a write is asked: whose case, by which idempotency key if any, after which versions of the case.

    `by` is written beside every event; None leaves it to what is sent.
    """

    shop: str = SHOP
    key: Key | None = None
    seen: frozenset[int] = frozenset()
    by: str | None = None


@dataclass(frozen=True)
class CaseBook:
    """Cases in a store, advised on by an engine; `now` is the clock [UTC]."""

    store: Store
    engine: Engine
    now: Callable[[], datetime]

    @cached_property
    def releases(self) -> ReleaseBook:
        """The releases of priors in the same store."""
        return ReleaseBook(self.store, self.now)

    def engine_now(self, shop: str) -> Engine:
        """The engine under the priors that are in force for a shop."""
        return self.engine.under(self.releases.rates(shop))

    def engine_of(self, shop: str, state: CaseState) -> Engine:
        """The engine under the priors that a case keeps to; raises UnknownReleaseError, StoreError."""
        return self.engine.under(self.releases.named(state.release.priors, shop))

    def open(self, body: Json, write: Write) -> CaseOut:
        """Open a case under the release in force; raises RequestError, KeyReusedError and StoreError."""
        sent = _signed(parse(CaseIn, body), write)
        model = service.known_in_request(sent.circuit, self.engine_now(write.shop))
        check_symptom(sent, model)
        at, case = self.now(), secrets.token_urlsafe(12)
        events = first_events(sent, release_of(model), at)

        def work(journals: Journals) -> tuple[str, Journal]:
            """Open it, unless its key has."""
            if (done := _done(journals, write, at)) is not None:
                return done
            if sent.comeback_of is not None:
                _link(journals, write.shop, sent.comeback_of, pointer("comeback_of"))
            journals.open(_row(case, write.shop, state_after((), events)), events)
            _keep(journals, write, case, len(events), at)
            return case, events

        return self.present(write.shop, *self.store.write(work))

    def append(self, case: str, body: Json, write: Write) -> CaseOut:
        """Add events to a case, all or none.

        Raises:
            UnknownCaseError: the shop has no such case.
            RequestError: an event is wrong, or the case does not take it (CaseStateError); each has its pointer.
            StaleCaseError: the case has changed since the versions that were seen.
            KeyReusedError, StoreError.
        """
        sent = _signed(parse(EventsIn, body), write)
        row = self.store.read(lambda journals: journals.row(write.shop, case))
        check_events(sent.events, lambda: service.known_model(row.circuit, self.engine))
        self._check_moves(sent, write.shop, row.circuit)
        at = self.now()

        def work(journals: Journals) -> tuple[str, Journal]:
            """Add them, unless their key has, or the case has changed."""
            current = journals.row(write.shop, case, to_write=True)
            if (done := _done(journals, write, at, case)) is not None:
                return done
            journal = journals.events([case])[case]
            if current.version not in write.seen:
                raise StaleCaseError(current.version, journal[min(write.seen, default=0) :])
            for place, event in enumerate(sent.events):
                if isinstance(event.body, Comeback):
                    _link(journals, write.shop, event.body.of, pointer("events", place, "body", "of"), itself=case)
            added = next_events(sent, journal, at)
            journals.append(_row(case, write.shop, state_after(journal, added)), added)
            _keep(journals, write, case, added[-1].seq, at)
            return case, (*journal, *added)

        return self.present(write.shop, *self.store.write(work))

    def read(self, shop: str, case: str) -> CaseOut:
        """Give a case; raises UnknownCaseError and StoreError."""
        return self.present(shop, case, self.journal(shop, case))

    def whole(self, shop: str, query: CasesQuery) -> tuple[tuple[CaseOut, ...], str | None]:
        """Give the cases of a page of the list with their journals, and the cursor of the next; raises StoreError."""
        wanted = _wanted(shop, query)

        def work(journals: Journals) -> tuple[Page, dict[str, Journal]]:
            """Read the page and its journals at once."""
            page = journals.page(wanted)
            return page, journals.events([row.id for row in page.rows])

        page, found = self.store.read(work)
        return tuple(self.present(shop, row.id, found[row.id]) for row in page.rows), present_list(page).next

    def erase(self, shop: str, case: str) -> CaseOut:
        """Erase what may name a person from a case, and give what is left; raises UnknownCaseError, StoreError."""
        self.store.write(lambda journals: journals.erase(journals.row(shop, case, to_write=True).id))
        self.store.compact()
        return self.read(shop, case)

    def state(self, shop: str, case: str) -> CaseState:
        """Give the state of a case; raises UnknownCaseError and StoreError."""
        return replay(self.journal(shop, case))

    def list(self, shop: str, query: CasesQuery) -> CaseList:
        """Give a page of the shop's cases, newest first; raises StoreError."""
        return present_list(self.store.read(lambda journals: journals.page(_wanted(shop, query))))

    def advice(self, shop: str, case: str, query: AdviceQuery) -> CaseAdvice:
        """Advise on a case as it stands; raises RequestError whose pointers lead into the case's events."""
        state = self.state(shop, case)
        asked = question(state, depth=int(query.depth), reasons=query.reasons == "true")
        try:
            engine = self.engine_now(shop) if query.release == "now" else self.engine_of(shop, state)
            answer = service.answer_body(asked.body, engine)
        except RequestError as error:
            raise asked.retold(error) from error
        return CaseAdvice(
            case=case,
            version=state.version,
            release=state.release,
            release_changed=answer.release != state.release,
            not_fit_until=state.not_fit_until,
            put_on=tuple(state.put_on.values()),
            authorised=amount(state.authorised),
            spent=amount(state.spent),
            advice=answer,
        )

    def journal(self, shop: str, case: str) -> Journal:
        """Give the journal of a case; raises UnknownCaseError and StoreError."""

        def work(journals: Journals) -> Journal:
            """Read the journal of a case of this shop."""
            journals.row(shop, case)
            return journals.events([case])[case]

        return self.store.read(work)

    def present(self, shop: str, case: str, journal: Journal) -> CaseOut:
        """Give a case that a journal tells."""
        state = replay(journal)
        return present(case, journal, state, self._release_now(shop, state.opened.circuit))

    def _release_now(self, shop: str, circuit: str) -> Release | None:
        """Name the release in force; None where the circuit cannot be loaded, which the advice itself tells in full."""
        try:
            return release_of(service.known_model(circuit, self.engine_now(shop)))
        except AdvisorError:
            return None

    def _check_moves(self, sent: EventsIn, shop: str, circuit: str) -> None:
        """Refuse a move to a release that is not in force; raises RequestError."""
        for place, event in enumerate(sent.events):
            if isinstance(event.body, Moved) and event.body.release != (now := self._release_now(shop, circuit)):
                named = now.model_dump_json() if now else "none, since the circuit cannot be loaded"
                where = pointer("events", place, "body", "release")
                raise RequestError([RequestProblem(where, f"a case moves to the release in force, which is {named}")])


def release_of(model: KnownModel) -> Release:
    """Name what advice on a model comes from."""
    return Release(knowledge=model.knowledge, priors=model.priors, engine=ENGINE_VERSION)


def _signed(sent: Sent, write: Write) -> Sent:
    return sent if write.by is None else sent.model_copy(update={"by": write.by})


def _done(journals: Journals, write: Write, now: datetime, case: str | None = None) -> tuple[str, Journal] | None:
    """Give what a request with this key has done before, as it left the case; raises KeyReusedError."""
    kept = journals.kept(write.key, now) if write.key else None
    if write.key is None or kept is None:
        return None
    if kept.fingerprint != write.key.fingerprint or case not in (None, kept.case):
        raise KeyReusedError(REUSED)
    return kept.case, journals.events([kept.case])[kept.case][: kept.version]


def _keep(journals: Journals, write: Write, case: str, version: int, now: datetime) -> None:
    if write.key is not None:
        journals.keep(write.key, case, version, now)


def _link(journals: Journals, shop: str, earlier: str, where: str, itself: str | None = None) -> None:
    """Refuse a link to a case that is not there, or to the case itself; raises RequestError."""
    if earlier == itself:
        raise RequestError([RequestProblem(where, "a case does not come back from itself")])
    try:
        journals.row(shop, earlier)
    except UnknownCaseError as error:
        raise RequestError([RequestProblem(where, str(error))]) from error


def _wanted(shop: str, query: CasesQuery) -> Wanted:
    return Wanted(shop, query.state, query.circuit, query.reference, start_of(query.since), query.cursor, query.limit)


def start_of(day: date | None) -> datetime | None:
    """Give the first moment of a day [UTC]."""
    return datetime.combine(day, time(), UTC) if day else None


def _row(case: str, shop: str, state: CaseState) -> CaseRow:
    return CaseRow(
        case,
        shop,
        state.opened.circuit,
        state.opened.reference,
        state.status,
        state.opened_at,
        state.changed_at,
        state.version,
    )
