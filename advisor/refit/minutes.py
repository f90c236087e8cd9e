"""How long work takes: factors on the model's minutes of tests, repairs, access and proving, from orders' working time.

An order's minutes are a sum of which only the total is written down.  It is shared out among what was done in the
proportions of the present factors, and each factor is what it was given over what the model foresaw, the model counting
as ten orders beforehand; so again until nothing moves (the EM algorithm of a sum of Poisson variables: L. Shepp and
Y. Vardi, IEEE Transactions on Medical Imaging 1, 1982, from memory).  A total far from what is foreseen counts as one
less far.  Only orders with a confirmed cause count: where a vehicle was handed over the work was not finished.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from advisor.decision.access import access_minutes
from advisor.decision.bench import groundwork
from advisor.decision.repairs import VERIFY_MINUTES, RepairPlan
from advisor.decision.working import ACCESS, PROVING, work_of_repair, work_of_test
from advisor.knowledge.model import Model
from advisor.knowledge.places import path
from advisor.network.worlds import Floats

PSEUDO = 10.0
"""Orders that the model's minutes count for: judgement, no source."""
FARTHEST = 3.0
"""A total this many times more or less than foreseen counts as that: judgement, no source."""
LEAST_ORDERS = 10
"""Orders below which nothing is said of a kind of work."""
RESAMPLES, STEPS, STILL = 100, 3000, 1e-5
LEVEL = 0.9


@dataclass(frozen=True)
class Took:
    """A factor on the model's minutes of some work: median and 90 % interval, from so many orders with it."""

    work: str
    factor: float
    low: float
    high: float
    orders: int


def took(orders: pd.DataFrame, models: Mapping[str, Model], seed: int) -> tuple[Took, ...]:
    """Learn how long work takes, by kind of work; nothing where too few orders tell their minutes.

    Args:
        orders: Columns of order/1, accepted; only confirmed ones with minutes, findings and repairs are used.
        models: Circuits by id, with the library's minutes.
        seed: Of the random numbers that draw orders again.
    """
    told = [name for name in ("circuit", "findings", "repairs", "minutes", "cause_status") if name in orders]
    if "minutes" not in told:
        return ()
    whole = orders[orders["minutes"].notna() & (orders["cause_status"] == "confirmed")]
    whole = whole[whole["findings"].notna() & whole["repairs"].notna()]
    rows = [
        foreseen(models[circuit], findings, repairs)
        for circuit, findings, repairs in zip(whole["circuit"], whole["findings"], whole["repairs"], strict=True)
    ]
    names = sorted({name for row in rows for name in row})
    usual = np.array([[row.get(name, 0.0) for name in names] for row in rows]).reshape(len(rows), len(names))
    return learned(names, usual, whole["minutes"].to_numpy(dtype=np.float64), np.random.default_rng(seed))


def foreseen(model: Model, findings: str, repairs: str) -> dict[str, float]:
    """What the model foresees for an order by kind of work [min]; each place is opened once."""
    done: dict[str, float] = {PROVING: VERIFY_MINUTES}
    places: list[str] = []

    def add(work: str, minutes: float) -> None:
        """Count some work."""
        done[work] = done.get(work, 0.0) + minutes

    for finding in json.loads(findings):
        test = model.tests.get(finding.get("test", ""))
        if test is not None and finding.get("kind") != "declined":
            add(work_of_test(test), test.minutes)
            places += [test.place] if test.opens else []
    for plan in _plans(model, repairs):
        add(work_of_repair(model.wiring, plan), plan.minutes)
        places.append(plan.place)
    opened: frozenset[str] = frozenset()
    known = model.schematic.places
    for place in places:
        add(ACCESS, access_minutes(known, place, opened))
        opened |= frozenset(path(known, place))
    return {work: minutes for work, minutes in done.items() if minutes > 0.0}


def _plans(model: Model, repairs: str) -> Sequence[RepairPlan]:
    named = {text.strip().partition(" ")[0] for text in repairs.split(";")}
    return [plan for plan in groundwork(model).plans if plan.id in named]


def learned(names: Sequence[str], usual: Floats, minutes: Floats, rng: np.random.Generator) -> tuple[Took, ...]:
    """Factors of K kinds of work with intervals from orders drawn again.

    Args:
        names: Of the kinds.
        usual: Minutes that the model foresees of each, shape (N, K).
        minutes: That the orders took, shape (N,).
        rng: Draws orders.
    """
    if len(minutes) < LEAST_ORDERS:
        return ()
    best = factors(usual, minutes, np.ones(len(minutes)), np.ones(len(names)))
    drawn = rng.multinomial(len(minutes), np.full(len(minutes), 1.0 / len(minutes)), RESAMPLES).astype(np.float64)
    again = np.array([factors(usual, minutes, count, best) for count in drawn])
    low, high = np.quantile(again, [(1 - LEVEL) / 2, (1 + LEVEL) / 2], axis=0)
    orders = (usual > 0.0).sum(axis=0)
    rows = zip(names, best.tolist(), low.tolist(), high.tolist(), orders.tolist(), strict=True)
    return tuple(Took(*row) for row in rows if row[-1] >= LEAST_ORDERS)


def factors(usual: Floats, minutes: Floats, count: Floats, start: Floats) -> Floats:
    """Factors of K kinds of work, shape (K,), by sharing totals out; `count` are orders of each row, shape (N,)."""
    done = usual > 0.0
    typical = usual.sum(axis=0) / np.maximum(done.sum(axis=0), 1)
    found, spent = start.copy(), count @ usual
    for _ in range(STEPS):
        expected = usual @ found
        ratio = np.clip(minutes / expected, 1.0 / FARTHEST, FARTHEST)
        before, found = found, (PSEUDO * typical + found * ((count * ratio) @ usual)) / (PSEUDO * typical + spent)
        if np.abs(found - before).max(initial=0.0) < STILL:
            break
    return found
