"""An invented fleet: vehicles of several shops, and when each of them comes in with a complaint."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from advisor.units import DAYS_PER_YEAR

# Shops, their share of the vehicles and their climate; all of it is invented.
SHOPS = (
    ("harbour", 0.4, "salted"),
    ("hillside", 0.3, "temperate"),
    ("market", 0.2, "wet"),
    ("airfield", 0.1, "hot-dry"),
)
GROUPS = (("panel-short", 0.5), ("panel-long", 0.3), ("box", 0.2))
FIRST, LAST = datetime(2023, 7, 1, tzinfo=UTC), datetime(2026, 6, 30, tzinfo=UTC)
"""Between these days orders are opened [UTC]."""
ORDERS_A_VEHICLE = 4
KM_PER_HOUR = 28.0
"""Mean speed of a delivery van in town [km/h]: common practice, no source."""


@dataclass(frozen=True)
class Visit:
    """A vehicle as it comes in: who it is, whose, and its age [years], running hours [h] and odometer [km]."""

    vehicle: str
    group: str
    shop: str
    climate: str
    opened_at: datetime
    years: float
    hours: float
    odometer_km: float

    def later(self, days: float) -> Visit:
        """The same vehicle some days later, driven on as before."""
        grown = 1.0 + days / DAYS_PER_YEAR / max(self.years, 0.1)
        moved = (
            self.opened_at + timedelta(days=days),
            self.years * grown,
            self.hours * grown,
            self.odometer_km * grown,
        )
        return Visit(self.vehicle, self.group, self.shop, self.climate, *moved)


def visits(count: int, rng: np.random.Generator) -> list[Visit]:
    """Draw visits of a fleet that has about four each, in the order of time."""
    fleet = max(count // ORDERS_A_VEHICLE, 1)
    shop = rng.choice(len(SHOPS), fleet, p=[share for _, share, _ in SHOPS])
    group = rng.choice(len(GROUPS), fleet, p=[share for _, share in GROUPS])
    age_at_first = rng.gamma(3.0, 2.2, fleet)
    km_per_year = np.exp(rng.normal(np.log(24_000.0), 0.35, fleet))
    span = (LAST - FIRST) / timedelta(days=1)
    found = []
    for vehicle, day in zip(
        rng.integers(fleet, size=count).tolist(), rng.uniform(0, span, count).tolist(), strict=True
    ):
        years = float(age_at_first[vehicle]) + day / DAYS_PER_YEAR
        km = float(km_per_year[vehicle]) * years
        name, _, climate = SHOPS[shop[vehicle]]
        who = (f"v{vehicle:05d}", GROUPS[group[vehicle]][0], name, climate)
        found.append(Visit(*who, FIRST + timedelta(days=day), years, km / KM_PER_HOUR, km))
    return sorted(found, key=lambda visit: (visit.opened_at, visit.vehicle))
