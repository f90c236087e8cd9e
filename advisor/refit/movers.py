"""The causes whose rates moved most, and the orders that moved them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from advisor.network.worlds import Floats
from advisor.refit.fitting import orders, shared
from advisor.refit.learning import Learned
from advisor.refit.sums import binned

SHOWN = 12
BEHIND = 3
Row = Mapping[Any, Any]  # Any: pandas does not say what is in a row


@dataclass(frozen=True)
class Behind:
    """Equal orders behind a mover: how many, how many of them were about it, their complaint, and what they name."""

    orders: int
    about: float
    symptom: str
    causes: str
    status: str
    findings: int
    came_back: str


@dataclass(frozen=True)
class Mover:
    """A cause's rate before and after, with a 90 % interval, and the orders that it stands on."""

    circuit: str
    cause: str
    factor: float
    low: float
    high: float
    events: float
    confirmed: int
    sure: bool
    behind: tuple[Behind, ...]


def movers(learned: Learned, count: int = SHOWN) -> tuple[Mover, ...]:
    """Give the causes of which orders say something by how far their rates moved, a shared part once."""
    rows = [
        (abs(float(np.log(rates.factors[cause]))), circuit, cause)
        for circuit, rates in learned.rates.items()
        for cause in np.flatnonzero(~rates.known.from_handbook).tolist()
    ]
    found: list[Mover] = []
    seen: set[int] = set()
    for _, circuit, cause in sorted(rows, key=lambda row: (-row[0], row[1], row[2])):
        name = learned.coordinates.terms[circuit].model.compiled.causes[cause]
        own = int(learned.coordinates.of_causes(circuit)[[cause]].indices.min())
        if own not in seen and len(found) < count:
            found.append(_mover(learned, circuit, cause, name))
        seen.add(own)
    return tuple(found)


def _mover(learned: Learned, circuit: str, cause: int, name: str) -> Mover:
    rates, table = learned.rates[circuit], learned.parted.patterns
    about = about_cause(learned, circuit, cause)
    mine = (table["circuit"] == circuit) & (table["cause_status"] == "confirmed")
    named = mine & table["causes"].map(lambda text: name in text.split("; "))
    first = np.argsort(-about, kind="stable")[:BEHIND]
    values = (rates.factors, rates.known.low, rates.known.high, rates.events)
    factor, low, high, events = (float(row[cause]) for row in values)
    return Mover(
        circuit,
        name,
        factor,
        low,
        high,
        events,
        int(table["count"][named].sum()),
        not low <= 1.0 <= high,
        tuple(_behind(table.iloc[row].to_dict(), float(about[row])) for row in first.tolist() if about[row] > 0.0),
    )


def about_cause(learned: Learned, circuit: str, cause: int) -> Floats:
    """Expected orders of each pattern that were about a cause, shape (N,)."""
    every, terms, offset = learned.taken.counted, learned.coordinates.terms[circuit], learned.coordinates.offsets
    holds = np.zeros(every.share.shape[1])
    start = offset[circuit]
    holds[start : start + 2 * terms.sets] = terms.holds[:, [cause]].toarray()[:, 0]
    each = orders(every, shared(every, learned.fit.factors))
    return binned(every.row_of, each * holds[every.share.indices], every.share.shape[0])


def _behind(row: Row, about: float) -> Behind:
    findings = str(row["findings"]).count('"test"')
    symptom, causes, status = (str(row[name]) for name in ("symptom", "causes", "cause_status"))
    return Behind(int(str(row["count"])), about, symptom, causes, status, findings, str(row["came_back"]))
