"""What a table of orders is checked for beyond the form of its cells; each rule says of each row what is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache

import numpy as np
import pandas as pd

from advisor.contract.nearest import shown, unknown
from advisor.contract.order_names import STRANGERS, Stranger
from advisor.decision.repairs import repair_plans
from advisor.errors import UnknownModelError
from advisor.knowledge.model import Model
from advisor.refit.odometer import Misread, Read, misread
from advisor.units import HOURS_PER_YEAR

OLDEST = datetime(1990, 1, 1, tzinfo=UTC)
"""Orders from before this day are typing errors: no table of them is that old, no source."""
LEAST_MINUTES, MOST_MINUTES = 3.0, 2_880.0
"""An order takes from so many minutes to six working days: common practice, no source."""
MOST_KM_PER_HOUR = 160.0
"""No vehicle drives so fast on average [km/h]: common practice, no source."""
RESULTS = ("stays", "gone", "back")
"""What may be said of a repair; nothing, where nobody looked afterwards."""
Found = dict[int, str]
"""What is wrong, by line."""


@dataclass(frozen=True)
class Rule:
    """What one column is checked for: the reason's name, and what is wrong with which lines of a table."""

    column: str
    name: str
    wrong: Callable[[pd.DataFrame], Found]


def rules(load: Callable[[str], Model], now: datetime) -> tuple[Rule, ...]:
    """Give the rules that look at one row at a time or at the rows of one vehicle."""
    judge = _Names(load)
    names = [
        Rule(column, name, lambda orders, c=column, n=name: judge.wrong(orders, c, n))  # type: ignore[misc] # bound here
        for column, names in _NAMED.items()
        for name in names
    ]
    return (*names, *_sense(now), *_odometers(now))


_NAMED = {
    "circuit": ("unknown-circuit",),
    "symptom": ("unknown-symptom",),
    "causes": ("unknown-part", "unknown-mode"),
    "repairs": ("unknown-repair", "unknown-result"),
    "findings": ("unreadable-findings", "unknown-test", "wrong-finding"),
}


class _Names:
    """Judges names, each distinct text of a circuit once."""

    def __init__(self, load: Callable[[str], Model]) -> None:
        self._model = cache(load)
        self._repairs = cache(lambda circuit: frozenset(plan.id for plan in repair_plans(self._model(circuit).wiring)))
        self._strange = cache(self._look)

    def wrong(self, orders: pd.DataFrame, column: str, name: str) -> Found:
        """Say what is strange for one reason in a column."""
        found: Found = {}
        for line, circuit, text in zip(orders.index, orders["circuit"], orders[column], strict=True):
            if not pd.isna(circuit) and not pd.isna(text):
                details = [s.detail for s in self._strange(column, circuit, text) if s.reason == name]
                if details:
                    found[line] = "; ".join(dict.fromkeys(details))
        return found

    def _look(self, column: str, circuit: str, text: str) -> tuple[Stranger, ...]:
        try:
            model = self._model(circuit)
        except UnknownModelError as error:
            return (Stranger("unknown-circuit", str(error)),) if column == "circuit" else ()
        if column == "circuit":
            return ()
        if column == "repairs":
            return tuple(self._strange_repairs(text, circuit))
        strange = tuple(STRANGERS[column](text, model))
        return (*strange, *_strange_modes(text, model)) if column == "causes" else strange

    def _strange_repairs(self, text: str, circuit: str) -> Iterator[Stranger]:
        known = self._repairs(circuit)
        for repair in (item.strip() for item in text.split(";") if item.strip()):
            name, _, result = repair.partition(" ")
            if result.strip() not in ("", *RESULTS):
                yield Stranger(
                    "unknown-result", f"expected REPAIR and one of {', '.join(RESULTS)}, not {shown(repair)}"
                )
            if name not in known:
                yield Stranger("unknown-repair", unknown("repair", name, known))


def _strange_modes(causes: str, model: Model) -> Iterator[Stranger]:
    for cause in (cause.strip() for cause in causes.split(";") if cause.strip()):
        part, _, mode = cause.rpartition("/")
        if part in model.cause_parts and cause not in model.compiled.causes:
            modes = [known.rpartition("/")[2] for known in model.compiled.causes if known.rpartition("/")[0] == part]
            yield Stranger("unknown-mode", unknown(f"fault mode of {part}", mode, modes))


def _sense(now: datetime) -> tuple[Rule, ...]:
    def later(column: str) -> Callable[[pd.DataFrame], Found]:
        """The judge of moments after now."""
        return lambda t: _said(t[column] > now, lambda row: f"{row[column]:%Y-%m-%d} lies after {now:%Y-%m-%d}", t)

    return (
        Rule("opened_at", "date-in-future", later("opened_at")),
        Rule("closed_at", "date-in-future", later("closed_at")),
        Rule("closed_at", "date-too-old", lambda t: _said(t["closed_at"] < OLDEST, lambda _: "from before 1990", t)),
        Rule("closed_at", "closed-before-opened", _closed_first),
        Rule("minutes", "units-mixed", _odd_minutes),
        Rule("hours", "units-mixed", _odd_hours),
        Rule("odometer_km", "units-mixed", _odd_speed),
    )


def _closed_first(orders: pd.DataFrame) -> Found:
    wrong = orders["closed_at"] < orders["opened_at"]
    return _said(wrong, lambda row: f"closed before it was opened, {row['opened_at']:%Y-%m-%d %H:%M}", orders)


def _odd_minutes(orders: pd.DataFrame) -> Found:
    minutes = orders["minutes"]
    few = _said(
        minutes < LEAST_MINUTES, lambda row: f"{row['minutes']:g} minutes for an order; are these hours?", orders
    )
    many = minutes > MOST_MINUTES
    return few | _said(many, lambda row: f"{row['minutes']:g} minutes for an order; are these seconds?", orders)


def _odd_hours(orders: pd.DataFrame) -> Found:
    wrong = orders["hours"] > np.maximum(orders["years"], 1 / 12) * HOURS_PER_YEAR
    return _said(wrong, lambda row: f"{row['hours']:g} h are more than {row['years']:g} years have", orders)


def _too_fast(orders: pd.DataFrame) -> pd.Series:
    return orders["odometer_km"] > np.maximum(orders["hours"], 1.0) * MOST_KM_PER_HOUR


def _odd_speed(orders: pd.DataFrame) -> Found:
    return _said(_too_fast(orders), lambda row: f"{row['odometer_km']:,.0f} km in {row['hours']:g} h", orders)


def _said(wrong: pd.Series, say: Callable[[pd.Series], str], orders: pd.DataFrame) -> Found:
    return {line: say(row) for line, row in orders[wrong.to_numpy(dtype=bool, na_value=False)].iterrows()}


def _odometers(now: datetime) -> tuple[Rule, ...]:
    seen: list[tuple[pd.DataFrame, list[Misread]]] = []

    def rule(name: str) -> Rule:
        """The rule of one reason; the table is looked at once for all of them."""

        def wrong(orders: pd.DataFrame) -> Found:
            """What is wrong for this reason."""
            if not (seen and seen[0][0] is orders):
                seen[:] = [(orders, _misread(orders, now))]
            return {each.line: each.detail for each in seen[0][1] if each.name == name}

        return Rule("odometer_km", name, wrong)

    return tuple(rule(name) for name in ("odometer-backwards", "units-mixed", "odometer-jumps"))


def _misread(orders: pd.DataFrame, now: datetime) -> list[Misread]:
    """Look at vehicles with two readings and more; one that is wrong by itself says nothing of the others."""
    read_at = orders["opened_at"].fillna(orders["closed_at"])
    known = orders["vehicle"].notna() & orders["odometer_km"].notna() & read_at.between(OLDEST, now)
    known &= ~_too_fast(orders) & orders["vehicle"].duplicated(keep=False)
    rows = orders[known]
    days = read_at[known].to_numpy(dtype="datetime64[us]").astype(np.int64) / 86_400e6
    readings: dict[str, list[Read]] = {}
    columns = (rows["vehicle"], days.tolist(), rows["odometer_km"], rows["years"], rows.index)
    for vehicle, *reading in zip(*columns, strict=True):
        readings.setdefault(vehicle, []).append(Read(*reading))
    return [wrong for those in readings.values() if len(those) > 1 for wrong in misread(those)]


def duplicates(good: frozenset[int]) -> Rule:
    """Give the rule that an order stands in a table once; of equal ones the first of the good lines stays."""

    def wrong(orders: pd.DataFrame) -> Found:
        """Every row but the first good one of each order."""
        found: Found = {}
        for key in (["shop", "reference", "circuit"], ["shop", "case"]):
            known = orders[orders[key[1:]].notna().all(axis=1)]
            for _, rows in known[known.duplicated(key, keep=False)].groupby(key, dropna=False, sort=False):
                lines = rows.index.tolist()
                first = next((line for line in lines if line in good), lines[0])
                found |= {line: f"the same order as line {first}" for line in lines if line != first}
        return found

    return Rule("reference", "duplicate-order", wrong)
