"""Units that readings may be given in, and their factor to SI."""

from __future__ import annotations

TO_SI = {"V": 1.0, "mV": 1e-3}
"""Factor from a voltage unit to volts."""

DAYS_PER_YEAR = 365.25
HOURS_PER_YEAR = 8766.0
