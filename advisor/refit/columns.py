"""The columns of the two tables of refitting: orders as they come in, and patterns as a fit takes them."""

from __future__ import annotations

from advisor.contract.order_rows import COLUMNS

ORDER_FORMAT = "order/1"
ORDER_COLUMNS = tuple(COLUMNS)
"""Columns of a table of orders, in the order of the service's export."""

PATTERN_TEXTS = (
    "circuit",
    "symptom",
    "findings",
    "repairs",
    "causes",
    "cause_status",
    "came_back",
    "vehicle_group",
    "climate",
    "shop",
    "period",
)
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
"""Columns of a table of patterns: `PATTERN_TEXTS` are text, "" where unknown; years and hours are NaN where unknown."""

FOLLOWED_DAYS = (0, 30, 90, 365)
"""Bands of the days that a vehicle was followed after its order; a band is named by its lower end [days]."""

YEARS = (0, 1, 2, 4, 6, 8, 10, 12, 15, 20, 30, 40)
"""Edges of the bands of a vehicle's age [years]; what lies beyond the last edge counts to the last band."""

HOURS = (0, 250, 500, 1_000, 2_000, 3_000, 4_500, 6_000, 8_000, 12_000, 20_000, 30_000)
"""Edges of the bands of a vehicle's running hours [h]; what lies beyond the last edge counts to the last band."""
