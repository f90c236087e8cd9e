"""A case as a person looks at it: with the advice, what was likely at first, and where each answer would lead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.cases.asking import Question, question, question_at_opening
from advisor.cases.book import CaseBook
from advisor.cases.replay import replay
from advisor.cases.state import CaseState
from advisor.cases.writing import next_events, state_after
from advisor.contract import service
from advisor.contract.answer import AdviceAnswer, TestOut
from advisor.contract.body import Json
from advisor.contract.case_answer import CaseOut
from advisor.contract.case_events import EventsIn
from advisor.contract.case_requests import check_events, parse
from advisor.contract.engine import Engine
from advisor.errors import CircuitError, ImpossibleFindingsError, KnowledgeError, RequestError


@dataclass(frozen=True)
class Advised:
    """The advice on a case, and what it is told beside.

    `sources` names the event of each finding. `test` is the one that is looked at, the next one if none was chosen,
    and `after` the advice after each of its outcomes.
    """

    answer: AdviceAnswer
    sources: tuple[int, ...]
    test: TestOut | None = None
    after: Mapping[str, AdviceAnswer] = field(default_factory=dict)


@dataclass(frozen=True)
class Look:
    """A case with the advice on it, or with what stands against any advice; a closed case is not advised on.

    `began` is the advice on the first complaint alone.
    """

    case: CaseOut
    began: AdviceAnswer | None = None
    advised: Advised | None = None
    trouble: tuple[str, ...] = ()


def look(book: CaseBook, shop: str, case: str, chosen: str | None = None) -> Look:
    """Look at a case, and at a chosen test if it may be done now; raises UnknownCaseError and StoreError."""
    journal = book.journal(shop, case)
    state, shown = replay(journal), book.present(shop, case, journal)
    try:
        engine = book.engine_of(shop, state)
        began = service.answer_body(question_at_opening(state), engine)
        return Look(shown, began) if shown.closing else Look(shown, began, _advised(state, chosen, engine))
    except RequestError as error:
        return Look(shown, trouble=tuple(problem.message for problem in error.problems))
    except (KnowledgeError, CircuitError):  # its text names files of the server
        return Look(shown, trouble=("The model of this circuit cannot be used now.",))


def _advised(state: CaseState, chosen: str | None, engine: Engine) -> Advised:
    asked = question(state, reasons=True)
    answer = service.answer_body(asked.body, engine)
    test = _looked_at(answer, chosen)
    return Advised(answer, asked.sources, test, _after(asked, test, engine) if test else {})


@dataclass(frozen=True)
class Both:
    """A case advised on under the release that it keeps to, and under the one in force."""

    case: CaseOut
    kept: AdviceAnswer
    now: AdviceAnswer


def both(book: CaseBook, shop: str, case: str) -> Both:
    """Advise on a case under both releases; raises RequestError where there is none, UnknownCaseError, StoreError."""
    journal = book.journal(shop, case)
    state = replay(journal)
    body = question(state).body
    kept, now = (service.answer_body(body, engine) for engine in (book.engine_of(shop, state), book.engine_now(shop)))
    return Both(book.present(shop, case, journal), kept, now)


def check(book: CaseBook, shop: str, case: str, events: Json) -> None:
    """Refuse events after which there is no advice, such as a reading that no vehicle gives.

    Raises:
        RequestError: with pointers into the events.
        UnknownCaseError, StoreError.
    """
    sent, journal = parse(EventsIn, events), book.journal(shop, case)
    check_events(sent.events, lambda: service.known_model(replay(journal).opened.circuit, book.engine))
    state = state_after(journal, next_events(sent, journal, book.now()))
    asked = question(state, depth=1)
    try:
        service.answer_body(asked.body, book.engine_of(shop, state))
    except RequestError as error:
        raise asked.retold(error) from error


def _looked_at(answer: AdviceAnswer, chosen: str | None) -> TestOut | None:
    tests = {test.test: test for test in answer.tests}
    return tests.get(chosen or "") or (tests.get(answer.next.id or "") if answer.next.kind == "test" else None)


def _after(asked: Question, test: TestOut, engine: Engine) -> dict[str, AdviceAnswer]:
    """Advise after each outcome of a test, one step ahead; one that cannot come has no advice after it."""
    found: dict[str, AdviceAnswer] = {}
    told = asked.body["findings"]
    assert isinstance(told, list)
    for item in test.outcomes:
        more: Json = {"kind": "outcome", "test": test.test, "outcome": item.outcome}
        body = {**asked.body, "findings": [*told, more], "depth": 1, "reasons": False}
        try:
            found[item.outcome] = service.answer_body(body, engine)
        except ImpossibleFindingsError:  # this outcome cannot come, which is nothing to tell
            continue
    return found
