"""What several findings share: one latent state of the whole case, connectors read mirrored, slips that last.

P(findings | h) = sum over g of P(g) prod over connectors of sum over m of P(m) prod over the connector's places of
[(1 - lasting) prod P(y | h, g, m) + lasting prod P(y | slip)]: the state g is the same for all findings of a case, m
tells whether a connector is read from the other side and is the same for all findings there, a lasting slip is the
same for all findings of a place, and what is left is independent.  Given g, connectors are independent, so that their
states cost a sum of two products each.  Hypotheses that give every finding alike are one class, so the sums run over
classes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.network.worlds import Floats, Ints

Numbers = NDArray[np.integer[Any]]  # Any: whatever width
"""Numbers of rows, in whatever width holds them."""
_LARGEST_KEY = 2**62


@dataclass(frozen=True)
class Turned:
    """A finding's likelihood where its connector is read from the other side.

    Attributes:
        connector: The connector; all its findings are mirrored together.
        chance: Prior of that.
        row: Row of `table` for each hypothesis, shape (H,).
        table: P(finding | row, state) at the mirrored cavity while no slip lasts, shape (U, G) or (U, 1).
    """

    connector: str
    chance: float
    row: Numbers
    table: Floats


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
        turned: The same where the connector is mirrored; None where that makes no difference.
    """

    row: Numbers
    table: Floats
    slipped: float
    place: str
    lasting: float
    stray: float
    turned: Turned | None = None

    def at(self, hypotheses: Ints) -> Shared:
        """The same for some of the hypotheses, or for paths that stand in them, shape (P,)."""
        turned = self.turned and replace(self.turned, row=self.turned.row[hypotheses])
        return replace(self, row=self.row[hypotheses], turned=turned)

    def alone(self, states: Floats) -> Floats:
        """P(finding | hypothesis) without any other finding, shape (H,)."""
        by_row = _averaged(self.table, states)[self.row]
        if self.turned:
            mirrored = _averaged(self.turned.table, states)[self.turned.row]
            by_row = by_row + self.turned.chance * (mirrored - by_row)
        likelihood: Floats = (1.0 - self.lasting) * by_row + self.lasting * self.stray
        return likelihood


@dataclass(frozen=True)
class Together:
    """What findings that share states leave.

    Attributes:
        likelihood: P(findings | hypothesis), shape (H,).
        states: Posterior of the shared states, shape (G,); the prior where nothing is possible.
        slipped: P(slip of the moment or of its place | findings) of each finding, shape (N,).
        mirrored: P(read from the other side | findings) by connector.
    """

    likelihood: Floats
    states: Floats
    slipped: Floats
    mirrored: Mapping[str, float] = field(default_factory=dict)

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
    class_of, first = classes(rows_of(findings), len(weights))
    here = [finding.at(first) for finding in findings]
    plugs = _by_connector(here)
    product = np.broadcast_to(states, (len(first), len(states)))
    for plug in plugs:
        product = product * plug.mixed
    joint = np.bincount(class_of, weights, minlength=len(first))[:, None] * product
    total, likelihood = float(joint.sum()), product.sum(axis=1)[class_of]
    if not total > 0.0:
        return Together(
            likelihood, states, np.zeros(len(findings)), {plug.name: plug.chance for plug in plugs if plug.name}
        )
    joint, slipped, mirrored = joint / total, np.zeros(len(findings)), {}
    for plug in plugs:
        turned = joint * plug.share
        if plug.name:
            mirrored[plug.name] = float(turned.sum())
        for group, straight, other in plug.places:
            slipped[group] = np.add(straight.slipping(joint - turned), other.slipping(turned))
    return Together(likelihood, joint.sum(axis=0), slipped, mirrored)


def _averaged(table: Floats, states: Floats) -> Floats:
    """P(finding | row), summed over the states, shape (U,)."""
    averaged: Floats = np.broadcast_to(table, (len(table), len(states))) @ states
    return averaged


def rows_of(findings: Sequence[Shared]) -> list[Numbers]:
    """All rows by which findings tell hypotheses apart, shape (H,) each."""
    return [f.row for f in findings] + [f.turned.row for f in findings if f.turned]


def classes(rows: Sequence[Numbers], count: int) -> tuple[Ints, Ints]:
    """Class of each of `count` hypotheses by all its rows, shape (H,), and the first hypothesis of each class."""
    keys, wide = np.zeros(count, dtype=np.int64), 1
    for row in rows:
        more = int(row.max(initial=0)) + 1
        if wide * more > _LARGEST_KEY:
            keys = np.unique(keys, return_inverse=True)[1]
            wide = int(keys.max(initial=0)) + 1
        keys, wide = keys * more + row, wide * more
    _, first, class_of = np.unique(keys, return_index=True, return_inverse=True)
    return class_of.astype(np.intp, copy=False), first


def sites(findings: Sequence[Shared]) -> list[list[int]]:
    """Which findings depend on each other in one shared state: those of one connector, or of one place of none."""
    connector = {finding.place: finding.turned.connector for finding in findings if finding.turned}
    groups: dict[tuple[str, str], list[int]] = {}
    for i, finding in enumerate(findings):
        name = connector.get(finding.place, "")
        groups.setdefault((name, "" if name else finding.place), []).append(i)
    return list(groups.values())


def at_site(findings: Sequence[Shared]) -> Floats:
    """P(findings of one site | hypothesis, shared state), shape (H, G), or (H, 1) where the state has no say."""
    (plug,) = _by_connector(findings)
    return plug.mixed


@dataclass(frozen=True)
class _Plug:
    """The places of one connector, each read as it is meant and mirrored; places at no connector are one without name.

    `mixed` is the likelihood of all findings there, `share` the part of it that is mirrored, shape (U, G) or (U, 1).
    """

    name: str
    chance: float
    places: list[tuple[list[int], _Place, _Place]]
    mixed: Floats
    share: Floats

    @staticmethod
    def of(name: str, chance: float, places: list[tuple[list[int], _Place, _Place]]) -> _Plug:
        """Put the places of a connector together."""
        straight, turned = np.ones((1, 1)), np.full((1, 1), chance)
        for _, one, other in places:
            straight, turned = straight * one.mixed, turned * other.mixed
        mixed = (1.0 - chance) * straight + turned
        share = np.divide(turned, mixed, out=np.zeros(np.broadcast(turned, mixed).shape), where=mixed > 0.0)
        return _Plug(name, chance, places, mixed, share)


def _by_connector(findings: Sequence[Shared]) -> list[_Plug]:
    """Group findings by connector, and inside by place."""
    places: dict[str, list[int]] = {}
    for i, finding in enumerate(findings):
        places.setdefault(finding.place, []).append(i)
    plugs: dict[str, list[tuple[list[int], _Place, _Place]]] = {}
    chances: dict[str, float] = {"": 0.0}
    for group in places.values():
        mine = [findings[i] for i in group]
        turned = next((finding.turned for finding in mine if finding.turned), None)
        straight = _Place.of(mine, [finding.table[finding.row] for finding in mine])
        other = _Place.of(mine, [_mirrored(finding) for finding in mine]) if turned else straight
        name = turned.connector if turned else ""
        chances[name] = turned.chance if turned else 0.0
        plugs.setdefault(name, []).append((group, straight, other))
    return [_Plug.of(name, chances[name], found) for name, found in plugs.items()]


def _mirrored(finding: Shared) -> Floats:
    """P(finding | hypothesis, state) at a mirrored connector, as it is where that makes no difference."""
    turned = finding.turned
    return turned.table[turned.row] if turned else finding.table[finding.row]


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
    def of(findings: Sequence[Shared], read: list[Floats]) -> _Place:
        """Put the findings of one place together; `read` is what each gives by class and state."""
        lasting, own = max(f.lasting for f in findings), read[0]
        for row in read[1:]:
            own = own * row
        lost = lasting * float(np.prod([f.stray for f in findings]))
        return _Place(read, [f.slipped for f in findings], lost, (1.0 - lasting) * own + lost)

    def slipping(self, joint: Floats) -> list[float]:
        """P(slip) of each finding under a joint distribution of classes and states."""
        possible = self.mixed > 0.0
        lost = np.divide(self.lost, self.mixed, out=np.zeros_like(self.mixed), where=possible)
        lasts, chances = float((joint * lost).sum()), []
        for read, slipped in zip(self.read, self.slipped, strict=True):
            moment = np.minimum(np.divide(slipped, read, out=np.zeros_like(read), where=read > 0.0), 1.0)
            chances.append(lasts + float((joint * (1.0 - lost) * moment).sum()))
        return chances
