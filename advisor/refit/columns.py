"""The columns of the two tables of refitting: orders as they come in, and patterns as a fit takes them."""

from __future__ import annotations

from advisor.contract.order_rows import COLUMNS, NEEDED
from advisor.units import DAYS_PER_YEAR, KM_PER_MILE

ORDER_FORMAT = "order/1"
ORDER_COLUMNS = tuple(COLUMNS)
"""Columns of a table of orders, in the order of the service's export."""

PATTERN_NUMBERS = ("followed_days", "years", "hours")
PATTERN_COLUMNS = (
    "circuit",
    "symptom",
    "findings",
    "repairs",
    "causes",
    "cause_status",
    "came_back",
    "followed_days",
    "years",
    "hours",
    "vehicle_group",
    "climate",
    "shop",
    "period",
    "count",
)
PATTERN_TEXTS = tuple(name for name in PATTERN_COLUMNS if name not in {*PATTERN_NUMBERS, "count"})
"""Columns of a table of patterns: `PATTERN_TEXTS` are text, "" where unknown; years and hours are NaN where unknown."""

FOLLOWED_DAYS = (0, 30, 90, 365)
"""Bands of the days that a vehicle was followed after its order; a band is named by its lower end [days]."""

YEARS = (0, 1, 2, 4, 6, 8, 10, 12, 15, 20, 30, 40)
"""Edges of the bands of a vehicle's age [years]; what lies beyond the last edge counts to the last band."""

HOURS = (0, 250, 500, 1_000, 2_000, 3_000, 4_500, 6_000, 8_000, 12_000, 20_000, 30_000)
"""Edges of the bands of a vehicle's running hours [h]; what lies beyond the last edge counts to the last band."""

NEEDED_COLUMNS = NEEDED
MOMENTS = ("opened_at", "closed_at")
NUMBERS = ("years", "hours", "odometer_km", "parts_price", "minutes", "followed_days", "cost")
TEXTS = tuple(name for name in ORDER_COLUMNS if name not in (*MOMENTS, *NUMBERS))

UNITS = {
    "odometer_km": {"km": 1.0, "mi": KM_PER_MILE, "m": 1e-3},
    "minutes": {"min": 1.0, "h": 60.0, "s": 1.0 / 60.0},
    "hours": {"h": 1.0, "min": 1.0 / 60.0},
    "years": {"years": 1.0, "months": 1.0 / 12.0, "days": 1.0 / DAYS_PER_YEAR},
    "followed_days": {"days": 1.0, "weeks": 7.0, "months": DAYS_PER_YEAR / 12.0},
}
"""Units in which another system may keep a number, and their factor to ours, by our column."""
