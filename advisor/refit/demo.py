"""Invented repair orders from known rates, as messy as real ones: the generator behind `advisor orders demo`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from advisor.knowledge.model import Model
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, UNLISTED
from advisor.refit.columns import ORDER_COLUMNS
from advisor.refit.demo_faults import Circuit, Complaint, age_bands, known_factors, shares
from advisor.refit.demo_fleet import LAST, Visit, visits
from advisor.refit.demo_work import Work, done_work

TRUTH_FORMAT = "demo-truth/1"
SPECIAL = {NONE: "nothing wrong", AS_DESIGNED: "as designed", UNLISTED: "not listed"}
COMEBACK_SEEN = 0.8
"""Of vehicles that come back so many are in the table again; the others go to another shop."""
FOLLOWED = 0.7
LONGEST_DAYS = 500.0
MEAN_DAYS_BACK = 25.0
"""A repair that did not help is noticed after so many days in the mean [days]."""
Row = dict[str, str]


@dataclass(frozen=True)
class Demo:
    """Invented orders, and what is true of them.

    Attributes:
        rows: Texts by column of order/1, in the order of time.
        truth: What the generator knows: factors by circuit and cause, and what was wrong by reference.
    """

    rows: tuple[Row, ...]
    truth: Mapping[str, object]


@dataclass(frozen=True)
class _Order:
    """An order before its work: the vehicle, and what is wrong with it."""

    visit: Visit
    circuit: str
    symptom: str
    hypothesis: int
    comeback_of: str = ""


def demo_orders(models: Mapping[str, Model], seed: int, count: int) -> Demo:
    """Draw orders of an invented fleet; the same for the same models, seed and count.

    Args:
        models: Circuits and tables by id, with the handbook's rates.
        seed: Of everything that is drawn.
        count: How many orders there are.
    """
    rng = np.random.default_rng([seed, count])
    factors = known_factors(models, rng)
    circuits = {name: Circuit(model, factors[name]) for name, model in models.items()}
    waiting = sorted(_drawn(circuits, visits(count, rng), rng), key=lambda order: order.visit.opened_at)
    rows: list[Row] = []
    wrong: dict[str, str] = {}
    while len(rows) < count:
        order = waiting.pop(0)
        reference = f"{order.visit.shop[0].upper()}-{len(rows) + 1:06d}"
        work = done_work(circuits[order.circuit], order.symptom, order.hypothesis, rng)
        row, back = _row(order, reference, work, rng)
        rows.append(row)
        wrong[reference] = _truth_of(circuits[order.circuit], order.hypothesis)
        if back is not None and back.visit.opened_at < LAST and rng.random() < COMEBACK_SEEN:
            waiting.append(back)
            waiting.sort(key=lambda waited: waited.visit.opened_at)
    return Demo(tuple(rows), _truth(seed, factors, wrong, circuits))


def _drawn(circuits: Mapping[str, Circuit], seen: Sequence[Visit], rng: np.random.Generator) -> Iterator[_Order]:
    """Draw complaint and fault of every visit, ages banded as patterns are."""
    middles = age_bands()
    band = np.abs(np.array([visit.years for visit in seen])[:, None] - middles).argmin(axis=1)
    for number in np.unique(band).tolist():
        those = [visit for visit, own in zip(seen, band.tolist(), strict=True) if own == number]
        listed = [c for circuit in circuits.values() for c in circuit.complaints(float(middles[number]))]
        chosen = rng.choice(len(listed), len(those), p=shares(listed))
        for visit, index in zip(those, chosen.tolist(), strict=True):
            yield _order(visit, listed[index], rng)


def _order(visit: Visit, complaint: Complaint, rng: np.random.Generator) -> _Order:
    cumulated = complaint.cumulated
    hypothesis = int(np.searchsorted(cumulated, rng.random() * cumulated[-1], side="right"))
    return _Order(visit, complaint.circuit, complaint.symptom, hypothesis)


def _row(order: _Order, reference: str, work: Work, rng: np.random.Generator) -> tuple[Row, _Order | None]:
    """Write an order down; also give the visit with which the vehicle comes back from it, if it does."""
    visit = order.visit
    closed_at = visit.opened_at + timedelta(minutes=work.minutes + float(rng.exponential(600.0)))
    days = float(rng.exponential(MEAN_DAYS_BACK)) + 1.0 if work.comes_back else float("inf")
    followed = float(rng.uniform(14.0, LONGEST_DAYS)) if rng.random() < FOLLOWED else None
    told: dict[str, object] = {
        "reference": reference,
        "circuit": order.circuit,
        "opened_at": visit.opened_at.isoformat(timespec="seconds"),
        "closed_at": closed_at.isoformat(timespec="seconds"),
        "years": round(visit.years, 1),
        "hours": round(visit.hours),
        "odometer_km": round(visit.odometer_km),
        "symptom": order.symptom,
        **work.cells,
        "comeback_of": order.comeback_of,
        "source": "demo",
        "shop": visit.shop,
        "vehicle": visit.vehicle,
        "vehicle_group": visit.group,
        "climate": visit.climate,
    }
    if followed is not None:
        told |= {"came_back": "true" if days <= followed else "false", "followed_days": round(min(days, followed))}
    waited = (closed_at - visit.opened_at) / timedelta(days=1) + days
    back = replace(order, visit=visit.later(waited), comeback_of=reference) if work.comes_back else None
    return {name: str(told.get(name, "")) for name in ORDER_COLUMNS}, back


def _truth_of(circuit: Circuit, hypothesis: int) -> str:
    if hypothesis < SPECIALS:
        return SPECIAL[hypothesis]
    worlds = circuit.true.worlds
    return "; ".join(worlds.causes[cause] for cause in worlds.members[hypothesis].tolist() if cause >= 0)


def _truth(
    seed: int,
    factors: Mapping[str, Mapping[str, float]],
    wrong: Mapping[str, str],
    circuits: Mapping[str, Circuit],
) -> Mapping[str, object]:
    return {
        "format": TRUTH_FORMAT,
        "invented": True,
        "note": "Invented fleet, shops, vehicles and orders; factors multiply the handbook's rates. Climate, vehicle "
        "group and shop have no influence of their own.",
        "seed": seed,
        "orders": len(wrong),
        "knowledge": {name: circuit.handbook.knowledge for name, circuit in circuits.items()},
        "factors": factors,
        "wrong": wrong,
    }
