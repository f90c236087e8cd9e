"""What several findings share: one latent state of the whole case, and slips that last at a place.

P(findings | h) = sum over g of P(g) prod over places of [(1 - lasting) prod P(y | h, g) + lasting prod P(y | slip)]:
the state g is the same for all findings of a case, a lasting slip is the same for all findings of a place, and what
is left is independent.  Hypotheses that give every finding alike are one class, so the sums run over classes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from advisor.network.worlds import Floats, Ints


@dataclass(frozen=True)
class Shared:
    """A finding's likelihood in every shared state.

    Attributes:
        row: Row of `table` for each hypothesis, shape (H,).
        table: P(finding | row, state) while no slip lasts, shape (U, G); (U, 1) where the state has no say.
        slipped: Part of it that a slip of the moment gives, one number for all.
        place: Where the hand was.
        lasting: Chance of a slip that falsifies every finding of the place alike.
        stray: P(finding | lasting slip).
    """

    row: Ints
    table: Floats
    slipped: float
    place: str
    lasting: float
    stray: float

    def alone(self, states: Floats) -> Floats:
        """P(finding | hypothesis) without any other finding, shape (H,)."""
        by_row = (np.broadcast_to(self.table, (len(self.table), len(states))) @ states)[self.row]
        likelihood: Floats = (1.0 - self.lasting) * by_row + self.lasting * self.stray
        return likelihood


@dataclass(frozen=True)
class Together:
    """What findings that share states leave.

    Attributes:
        likelihood: P(findings | hypothesis), shape (H,).
        states: Posterior of the shared states, shape (G,); the prior where nothing is possible.
        slipped: P(slip of the moment or of its place | findings) of each finding, shape (N,).
    """

    likelihood: Floats
    states: Floats
    slipped: Floats

    @property
    def slips(self) -> float:
        """Expected number of findings that are slips."""
        return float(self.slipped.sum())


def together(findings: Sequence[Shared], states: Floats, weights: Floats) -> Together:
    """Sum out the shared states and the lasting slips.

    Args:
        findings: Of H hypotheses and G states.
        states: Prior of the states, shape (G,).
        weights: Joint probability of each hypothesis and all other findings, shape (H,).
    """
    class_of, first = classes([f.row for f in findings], len(weights))
    rows = [f.table[f.row[first]] for f in findings]
    groups = _by_place(findings)
    places = [_Place.of(group, findings, rows) for group in groups]
    product = np.broadcast_to(states, (len(first), len(states)))
    for place in places:
        product = product * place.mixed
    joint = np.bincount(class_of, weights, minlength=len(first))[:, None] * product
    total = float(joint.sum())
    if not total > 0.0:
        return Together(product.sum(axis=1)[class_of], states, np.zeros(len(findings)))
    joint, slipped = joint / total, np.zeros(len(findings))
    for group, place in zip(groups, places, strict=True):
        slipped[group] = place.slipping(joint)
    return Together(product.sum(axis=1)[class_of], joint.sum(axis=0), slipped)


def classes(rows: Sequence[Ints], count: int) -> tuple[Ints, Ints]:
    """Class of each of `count` hypotheses by all its rows, shape (H,), and the first hypothesis of each class."""
    class_of, first = np.zeros(count, dtype=np.intp), np.zeros(1, dtype=np.intp)
    for row in rows:
        keys = class_of * (int(row.max(initial=0)) + 1) + row
        _, first, class_of = np.unique(keys, return_index=True, return_inverse=True)
    return class_of, first


def _by_place(findings: Sequence[Shared]) -> list[list[int]]:
    groups: dict[str, list[int]] = {}
    for i, finding in enumerate(findings):
        groups.setdefault(finding.place, []).append(i)
    return list(groups.values())


@dataclass(frozen=True)
class _Place:
    """The findings of one place by class and state.

    `read` is each finding's likelihood while no slip lasts and `slipped` its part by a slip of the moment; `lost` is
    the joint probability of a lasting slip and what it gives; `mixed` is that of all findings, shape (U, G) or (U, 1).
    """

    read: list[Floats]
    slipped: list[float]
    lost: float
    mixed: Floats

    @staticmethod
    def of(group: Sequence[int], findings: Sequence[Shared], rows: Sequence[Floats]) -> _Place:
        """Put the findings of one place together."""
        lasting = max(findings[i].lasting for i in group)
        own = rows[group[0]]
        for i in group[1:]:
            own = own * rows[i]
        lost = lasting * float(np.prod([findings[i].stray for i in group]))
        return _Place(
            [rows[i] for i in group], [findings[i].slipped for i in group], lost, (1.0 - lasting) * own + lost
        )

    def slipping(self, joint: Floats) -> list[float]:
        """P(slip) of each finding under a joint distribution of classes and states."""
        possible = self.mixed > 0.0
        lost = np.divide(self.lost, self.mixed, out=np.zeros_like(self.mixed), where=possible)
        lasts, chances = float((joint * lost).sum()), []
        for read, slipped in zip(self.read, self.slipped, strict=True):
            moment = np.minimum(np.divide(slipped, read, out=np.zeros_like(read), where=read > 0.0), 1.0)
            chances.append(lasts + float((joint * (1.0 - lost) * moment).sum()))
        return chances
