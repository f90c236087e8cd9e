"""Expected number of each cause present in a vehicle now: hazard now times days from onset to visit.

x = lambda(age, hours, place) * tau: prevalence, not lifetime failure, is the prior.  A fault that somebody
notices is in the vehicle for days, one that nobody notices since the last inspection.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.documents import Place, Schematic
from advisor.knowledge.library import Hazard, Library
from advisor.knowledge.wiring import Item, Wiring
from advisor.network.events import PlaceEvent
from advisor.units import DAYS_PER_YEAR, HOURS_PER_YEAR

Floats = NDArray[np.float64]
_NOTICED_ABOVE = 0.5


@dataclass(frozen=True)
class Vehicle:
    """What is known of the vehicle: age [years] and engine hours [h]."""

    years: float = 9.0
    hours: float = 4200.0


def failures_per_year(item: Item, place: Place, library: Library, vehicle: Vehicle) -> float:
    """Hazard of one part now [1/year]: handbook rates by hours, or its kind's share of a typical circuit's faults."""
    hazard: Hazard = item.type.hazard
    if hazard.share is None:
        running = min(vehicle.hours / max(vehicle.years, 0.1), HOURS_PER_YEAR)
        per_hour = (hazard.running_per_million_hours or 0.0) * running
        return 1e-6 * (per_hour + (hazard.parked_per_million_hours or 0.0) * (HOURS_PER_YEAR - running))
    rate = library.faults_per_year * hazard.share / (hazard.of or 1.0)
    if hazard.grows_with == "years":  # corrosion and chafing go with age and place; inside parts they do not
        rate *= vehicle.years / library.typical_years * library.exposures[place.exposure].multiplier
    return rate


def place_events(wiring: Wiring) -> tuple[PlaceEvent, ...]:
    """What may hit several wires, contacts and grounds of one place together, by the place's exposure."""
    schematic, library = wiring.schematic, wiring.schematic.library
    here: dict[str, list[int]] = {}
    for index, item in enumerate(wiring.items.values()):
        if item.type.hazard.grows_with == "years":
            here.setdefault(item.place, []).append(index)
    found = []
    for place, parts in here.items():
        kind = library.place_events.get(schematic.places[place].exposure)
        if kind is not None and len(parts) > 1:
            days = library.intake.noticed_days
            found.append(PlaceEvent(kind.per_year * days / DAYS_PER_YEAR, kind.attack, tuple(parts)))
    return tuple(found)


def notice_days(schematic: Schematic, seen: Floats) -> Floats:
    """Days that each severity of each cause is in the vehicle before the visit, shape (V,).

    `seen` is P(symptom | severity), shape (V, S), symptoms in schematic order.
    """
    intake = schematic.library.intake
    days = np.array([s.noticed_days or intake.noticed_days for s in schematic.symptoms.values()])
    waits = np.where(seen > _NOTICED_ABOVE, days, np.inf).min(axis=1, initial=np.inf)
    return np.where(np.isfinite(waits), waits, intake.unnoticed_days)


def prevalence(wiring: Wiring, days: Floats, vehicle: Vehicle) -> Floats:
    """Expected faults of each severity present now, x, shape (V,); severities of a mode are equally likely to arise."""
    schematic, library = wiring.schematic, wiring.schematic.library
    items = [wiring.items[cause.part] for cause in wiring.causes]
    rates = [failures_per_year(item, schematic.places[item.place], library, vehicle) for item in items]
    present = np.array([item.type.hazard.present or 0.0 for item in items])
    counts = np.array([len(cause.variants) for cause in wiring.causes], dtype=np.intp)
    share = np.array([cause.mode.share for cause in wiring.causes])
    of_rates, of_present = (np.repeat(each * share / counts, counts) for each in (np.array(rates), -np.log1p(-present)))
    x: Floats = of_rates * days / DAYS_PER_YEAR + of_present  # a part has one of the two
    return x
