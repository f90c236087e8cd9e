"""What many cases have shown: a likelihood for each state of each variable, so that hard, soft and missing are one.

A likelihood is P(what was seen | state) up to a factor: it is multiplied in.  It is not a wish that a variable's
posterior come out as such shares (Jeffrey's rule), which is another operation.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from advisor.errors import RequestError, RequestProblem
from advisor.network.tree.families import Discrete
from advisor.network.worlds import Floats, Ints

MISSING = -1
_FAINT = 1e-6
"""Likelihood, but for zero, below which every message is scaled."""


@dataclass(frozen=True, eq=False)
class Seen:
    """What B cases have shown; what is not named is missing in all of them.

    Attributes:
        network: Whose variables are seen.
        cases: Their number, B.
        codes: Variables seen for sure, the number of the state in each case, -1 where missing, shape (B,) each.
        likelihoods: Variables seen with doubt, P(seen | state) up to a factor, shape (B, D) each.
    """

    network: Discrete
    cases: int
    codes: Mapping[str, Ints] = field(default_factory=dict)
    likelihoods: Mapping[str, Floats] = field(default_factory=dict)

    def __post_init__(self) -> None:
        problems = list(self._problems())
        if problems:
            raise RequestError(problems)

    @staticmethod
    def of(network: Discrete, cases: Sequence[Mapping[str, str]]) -> Seen:
        """Cases as states by variable.

        Raises:
            RequestError: a case names a variable or a state that the network does not have.
        """
        names = list(dict.fromkeys(name for case in cases for name in case))
        known = [name for name in names if name in network.by_name]
        problems = [
            RequestProblem(f"#/cases/{i}/{name}", f"unknown state {state!r}" if name in known else "unknown variable")
            for i, case in enumerate(cases)
            for name, state in case.items()
            if name not in known or state not in network.by_name[name].states
        ]
        if problems:
            raise RequestError(problems)
        states = {name: network.by_name[name].states for name in names}
        codes = {
            name: np.array(
                [states[name].index(case[name]) if name in case else MISSING for case in cases], dtype=np.intp
            )
            for name in names
        }
        return Seen(network, len(cases), codes)

    def _problems(self) -> Iterator[RequestProblem]:
        for name in (*self.codes, *self.likelihoods):
            if name not in self.network.by_name:
                yield RequestProblem(f"#/{name}", "unknown variable")
        for name, codes in self.codes.items():
            if name not in self.network.by_name:
                continue
            card = self.network.cards[name]
            if codes.shape != (self.cases,):
                yield RequestProblem(f"#/{name}", f"{codes.shape} states for {self.cases} cases")
            elif (wrong := np.flatnonzero((codes < MISSING) | (codes >= card))).size:
                yield RequestProblem(f"#/cases/{wrong[0]}/{name}", f"no state {codes[wrong[0]]} of {card}")
        for name, given in self.likelihoods.items():
            if name not in self.network.by_name:
                continue
            if given.shape != (self.cases, self.network.cards[name]):
                yield RequestProblem(f"#/{name}", f"likelihoods of the shape {given.shape}")
            elif (wrong := np.flatnonzero(~(np.isfinite(given) & (given >= 0.0)).all(axis=1))).size:
                yield RequestProblem(f"#/cases/{wrong[0]}/{name}", "a likelihood is negative or not a number")

    @property
    def faint(self) -> bool:
        """Whether some likelihood is so small that every message has to be scaled."""
        return any(
            bool(((scaled := _scaled(given)) < _FAINT).any() and (scaled[scaled > 0.0] < _FAINT).any())
            for given in self.likelihoods.values()
        )

    def rows(self, rows: slice, names: Sequence[str], cards: Sequence[int]) -> list[Floats]:
        """Likelihoods of some cases, each scaled to a largest one of 1, shape (D, rows) for each of some variables."""
        count = len(range(self.cases)[rows])
        tables = {card: np.vstack([np.eye(card), np.ones(card)]).T.copy() for card in set(cards)}
        missing = {card: np.ones((card, count)) for card in set(cards)}
        result = []
        for name, card in zip(names, cards, strict=True):
            table = missing[card]
            if name in self.codes:
                table = tables[card][:, self.codes[name][rows]]
            if name in self.likelihoods:
                table = table * _scaled(self.likelihoods[name][rows]).T
            result.append(table)
        return result

    def described(self, case: int) -> str:
        """What one case has shown, in words."""
        hard = [
            f"{name}={self.network.by_name[name].states[c[case]]}" for name, c in self.codes.items() if c[case] >= 0
        ]
        soft = [f"{name}=?" for name, given in self.likelihoods.items() if np.ptp(given[case]) > 0.0]
        return ", ".join([*hard, *soft]) or "nothing"

    def repeated(self, times: int) -> Seen:
        """Each case so many times, one after the other."""
        return Seen(
            self.network,
            self.cases * times,
            {name: codes.repeat(times) for name, codes in self.codes.items()},
            {name: given.repeat(times, axis=0) for name, given in self.likelihoods.items()},
        )

    def also(self, likelihoods: Mapping[str, Floats]) -> Seen:
        """The same cases with more seen, likelihoods of shape (B, D)."""
        both = {name: given * self.likelihoods.get(name, 1.0) for name, given in likelihoods.items()}
        return Seen(self.network, self.cases, self.codes, {**self.likelihoods, **both})


def _scaled(given: Floats) -> Floats:
    """Each case's largest likelihood made 1; one that is zero in every state stays so."""
    most = given.max(axis=1, keepdims=True)
    scaled: Floats = given / np.where(most > 0.0, most, 1.0)
    return scaled
