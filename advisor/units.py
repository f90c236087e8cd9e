"""Units that readings may be given in, and their factor to SI."""

from __future__ import annotations

READ_IN = {
    "V": {"V": 1.0, "mV": 1e-3},
    "A": {"A": 1.0, "mA": 1e-3},
    "ohm": {"ohm": 1.0, "kohm": 1e3, "Mohm": 1e6},
}
"""Units in which a reading may be given, by the test's own unit, and their factor to it."""

DAYS_PER_YEAR = 365.25
HOURS_PER_YEAR = 8766.0
KM_PER_MILE = 1.609344
"""The international mile [km], exact by definition: NIST Special Publication 811, appendix B.8."""
