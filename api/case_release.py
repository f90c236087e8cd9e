"""The page that shows what the release in force would change in a case."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.cases.looking import Both
from advisor.contract.answer import AdviceAnswer
from advisor.contract.case_answer import CaseOut
from advisor.contract.rates import OVER
from api import words

SHOWN = 6


@dataclass(frozen=True)
class Side:
    """Advice under one release: its priors, the next step, what it expects to cost."""

    priors: str
    next: str
    cost: str


@dataclass(frozen=True)
class Changed:
    """A repair with how likely it cures under either release, in words."""

    title: str
    kept: str
    now: str


@dataclass(frozen=True)
class ReleasePage:
    """A case under both releases; `send` is what a form that moves it has to say."""

    case: CaseOut
    kept: Side
    now: Side
    repairs: tuple[Changed, ...]
    send: tuple[tuple[str, str], ...]


def release_page(seen: Both) -> ReleasePage:
    """Lay both advices side by side, the likeliest repairs of either first."""
    kept, now = ({row.repair: row.probability for row in answer.repairs} for answer in (seen.kept, seen.now))
    titles = {row.repair: row.title for answer in (seen.kept, seen.now) for row in answer.repairs}
    largest = sorted(titles, key=lambda repair: -max(kept.get(repair, 0.0), now.get(repair, 0.0)))[:SHOWN]
    rows = (
        Changed(titles[repair], words.share(kept.get(repair, 0.0)), words.share(now.get(repair, 0.0)))
        for repair in largest
    )
    send = tuple((name, str(text)) for name, text in seen.now.release.model_dump().items())
    return ReleasePage(seen.case, _side(seen.kept), _side(seen.now), tuple(rows), send)


def _named(priors: str) -> str:
    """Name priors without the digits that programs tell them by."""
    return " over ".join(part.partition("@")[0] for part in priors.split(OVER))


def _side(answer: AdviceAnswer) -> Side:
    """The next step by its title; where it is neither test nor repair, its reason."""
    titles = {row.test: row.title for row in answer.tests} | {row.repair: row.title for row in answer.repairs}
    cost = words.money(answer.expected_cost.after_next, answer.expected_cost.currency)
    return Side(_named(answer.release.priors), titles.get(answer.next.id or "", answer.next.reason), cost)
