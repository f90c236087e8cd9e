"""How far what a customer says can be trusted, learned from orders whose cause is confirmed.

An order exists because of its complaint, so that the complaint's own statement says nothing of itself: rates and the
chance that a fault is reported cannot be learned together.  Two things go beyond it.

- Somebody looked at the complaint: with 1 - e what is seen is what the confirmed cause leads to expect, with e it is
  something else.  Orders whose complaint or cause comes and goes are left out, as a look misses it for other reasons.
- The customer said of another symptom that it is there, or that it is not.  Given the cause it shows with p; with f
  he says yes and with d no whatever is the case: P(says yes) = (1 - f - d) p + f.  The model's d is 0 and its f what
  is reported of sound vehicles.  That he was asked is taken to say nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import pandas as pd

from advisor.network.worlds import NONE, Floats
from advisor.refit.counted import Shelf
from advisor.refit.grids import GRID, believed, ends, variance
from advisor.refit.intervals import HANDBOOK_BELOW
from advisor.refit.patterns import settled
from advisor.refit.spoken import Reader

MEAN, PSEUDO = 0.05, 20.0
"""Chance of a wrong statement beforehand, and how many statements that counts for: judgement, no source."""
LEAST_ORDERS = 10
"""Orders below which nothing is said of a statement."""
_COARSE = GRID[::4]
What = Literal["complaint", "yes", "no"]


@dataclass(frozen=True)
class Trust:
    """Share of statements on a symptom that are right: the model's, and its median and 90 % interval.

    Attributes:
        circuit: Id of the circuit.
        symptom: Id of the symptom.
        what: A complaint found when it was looked at, "yes" where it shows, or "no" where it does not.
        orders: Expected orders that this is learned from.
        apart: Orders left out because something comes and goes.
        model: What the model takes it for.
        middle: Median.
        low: Lower end.
        high: Upper end.
        from_handbook: Whether orders are too few or say next to nothing.
    """

    circuit: str
    symptom: str
    what: What
    orders: int
    apart: int
    model: float
    middle: float
    low: float
    high: float
    from_handbook: bool

    @property
    def source(self) -> str:
        """What speaks."""
        return "handbook" if self.from_handbook else "orders"


class Said(NamedTuple):
    """What a pattern tells of a symptom: its chance by the confirmed cause, whether said or seen to be so, orders."""

    chance: float
    yes: bool
    orders: float


def trusts(patterns: pd.DataFrame, shelf: Shelf) -> tuple[Trust, ...]:
    """Learn how far statements can be trusted, by circuit and symptom.

    Args:
        patterns: `columns.PATTERN_COLUMNS`, all of them such as can be weighed.
        shelf: The circuits.
    """
    seen: dict[tuple[str, str], list[Said]] = defaultdict(list)
    told: dict[tuple[str, str], list[Said]] = defaultdict(list)
    apart: dict[tuple[str, str], float] = defaultdict(float)
    readers = {name: Reader(weigher) for name, weigher in shelf.weighers.items()}
    sure = patterns[settled(patterns)]
    for circuit, symptom, findings, causes, count in zip(
        *(sure[name] for name in ("circuit", "symptom", "findings", "causes", "count")), strict=True
    ):
        case = readers[circuit].case(symptom, findings, causes)
        if case is None:
            continue
        for other, chance, yes in case.told():
            told[circuit, other].append(Said(chance, yes, float(count)))
        if case.seen and case.comes_and_goes:
            apart[circuit, symptom] += float(count)
        elif case.seen:
            seen[circuit, symptom].append(Said(*case.seen, float(count)))
    found = [_complaint(*key, seen[key], apart[key]) for key in sorted({*seen, *apart})]
    for circuit, symptom in sorted(told):
        base = float(shelf.weighers[circuit].reported(symptom)[NONE])
        found += _others(circuit, symptom, told[circuit, symptom], base)
    return tuple(found)


def _complaint(circuit: str, symptom: str, rows: Iterable[Said], apart: float) -> Trust:
    """Of complaints that were looked at, those that are as told."""
    said = np.array([*rows]).reshape(-1, 3)
    log = believed(GRID, MEAN, PSEUDO)
    if len(said):
        chance, yes, count = said.T
        right = (1.0 - GRID[:, None]) * chance
        log = log + np.log(np.where(yes > 0.0, right, 1.0 - right)) @ count
    return _trust(circuit, symptom, "complaint", float(said[:, 2].sum()), apart, 1.0, GRID, log)


def _others(circuit: str, symptom: str, rows: Iterable[Said], base: float) -> tuple[Trust, Trust]:
    """Statements on a symptom beside the complaint: right where it shows, and where it does not."""
    said = np.array([*rows])
    chance, _, count = said.T
    log = errors(said)
    shows, absent = float(count @ chance), float(count @ (1.0 - chance))
    both = [np.logaddexp.reduce(log, axis=axis) for axis in (0, 1)]
    return (
        _trust(circuit, symptom, "yes", shows, 0.0, 1.0, _COARSE, both[0]),
        _trust(circuit, symptom, "no", absent, 0.0, 1.0 - base, _COARSE, both[1]),
    )


def errors(said: Floats) -> Floats:
    """Logarithm of the posterior of f (rows) and d (columns) on a grid, shape (G, G).

    Args:
        said: Rows of `Said`, shape (N, 3).
    """
    rows, place = np.unique(np.column_stack([said[:, 0].round(4), said[:, 1]]), axis=0, return_inverse=True)
    count = np.bincount(place.reshape(-1), said[:, 2])
    f, d = _COARSE[:, None], _COARSE[None, :]
    log = believed(f, MEAN, PSEUDO) + believed(d, MEAN, PSEUDO)
    for (chance, yes), number in zip(rows.tolist(), count.tolist(), strict=True):
        says = (1.0 - f - d) * chance + f
        log = log + number * np.log(says if yes else 1.0 - says)
    return log


def _trust(  # noqa: PLR0913, PLR0917  what is known of one number
    circuit: str, symptom: str, what: What, orders: float, apart: float, model: float, grid: Floats, log: Floats
) -> Trust:
    low, middle, high = ends(grid, log)
    learned = 1.0 - variance(grid, log) / variance(grid, believed(grid, MEAN, PSEUDO))
    silent = orders < LEAST_ORDERS or learned < HANDBOOK_BELOW
    numbers = (round(orders), round(apart), model, 1.0 - middle, 1.0 - high, 1.0 - low)
    return Trust(circuit, symptom, what, *numbers, silent)
