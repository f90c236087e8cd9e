"""How often instruments mislead: slips learned from orders whose cause is confirmed.

Given the cause, a finding is right with 1 - e, its chance by the model, or a slip with e, so that P(finding; e) is
proportional to (1 - e) / (1 - e0) (1 - r) + e / e0 r, r the probability of a slip at the model's e0.  Only confirmed
orders count: without a cause a slip looks like a fault that is not listed.  Whatever the model gets wrong about a
confirmed fault looks like a slip too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from advisor.network.findings import OutcomeFinding, ReadingFinding
from advisor.network.shared import together
from advisor.network.worlds import NONE, Floats, Ints
from advisor.refit.counted import Shelf
from advisor.refit.grids import GRID, believed, ends
from advisor.refit.order import Order
from advisor.refit.patterns import settled
from advisor.refit.weights import Weigher

PSEUDO = 50.0
"""Findings that the library's rate of slips counts for: judgement, no source."""


@dataclass(frozen=True)
class Slip:
    """Chance of a slip of one instrument: the model's, and its median and 90 % interval from so many findings."""

    instrument: str
    model: float
    middle: float
    low: float
    high: float
    findings: int
    expected: float


def slips(patterns: pd.DataFrame, shelf: Shelf) -> tuple[Slip, ...]:
    """Learn the slips of all instruments from patterns whose causes are confirmed, by instrument.

    Args:
        patterns: `columns.PATTERN_COLUMNS`, all of them such as can be weighed.
        shelf: The circuits.
    """
    sure = patterns[settled(patterns)]
    found: dict[str, list[tuple[float, float, float]]] = {}
    for circuit, symptom, findings, causes, count in zip(
        *(sure[name] for name in ("circuit", "symptom", "findings", "causes", "count")), strict=True
    ):
        weigher = shelf.weighers[circuit]
        for test, chance in slipped(weigher, Order(symptom, findings, first=True), causes):
            if test in weigher.model.battery_tests:  # nobody takes the posts for another place
                continue
            tool = weigher.model.instrument(weigher.model.tests[test])
            found.setdefault(tool.id, []).append((tool.slip, chance, float(count)))
    return tuple(_learned(name, np.array(rows)) for name, rows in sorted(found.items()))


def slipped(weigher: Weigher, order: Order, causes: str) -> Iterator[tuple[str, float]]:
    """P(slip | what was found, confirmed causes) of each test of an order that can slip."""
    model, worlds = weigher.model, weigher.model.worlds
    tested = [finding for finding in weigher.read(order) if isinstance(finding, OutcomeFinding | ReadingFinding)]
    evidence = [(finding.test, weigher.evidence(finding)) for finding in tested]
    weights = weigher.root.weights * weigher.reported(order.symptom) * weigher.confirmed(causes)
    held = np.flatnonzero(weights)
    alone = [each for _, each in evidence if each.shared is None]
    shows = weights * (1.0 - worlds.quiet) * np.prod([e.shows for e in alone], axis=0, initial=1.0)
    hides = weights * worlds.quiet * np.prod([e.hidden for e in alone], axis=0, initial=1.0)
    rows: Ints = np.append(held, NONE)  # what hides reads like none
    shared = [(test, each.shared) for test, each in evidence if each.shared is not None]
    if not shared or not shows.sum() + hides.sum() > 0.0:
        return iter(())
    joint = np.append(shows[held], hides.sum())
    left = together([each.at(rows) for _, each in shared], model.axis.prior, joint)
    return zip((test for test, _ in shared), left.slipped.tolist(), strict=True)


def _learned(instrument: str, rows: Floats) -> Slip:
    """The posterior of one instrument's rate on a grid.

    Args:
        instrument: Its id.
        rows: The model's rate, the chance of a slip, and the orders of each finding, shape (N, 3).
    """
    usual, chance, count = rows.T
    model = float(np.average(usual, weights=count))
    right = (1.0 - GRID[:, None]) / (1.0 - usual) * (1.0 - chance)
    log = np.log(right + GRID[:, None] / usual * chance) @ count
    low, middle, high = ends(GRID, log + believed(GRID, model, PSEUDO))
    return Slip(instrument, model, middle, low, high, int(count.sum()), float(chance @ count))
