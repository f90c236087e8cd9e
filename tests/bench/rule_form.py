"""The forms of a technician's rule and of an order from source to load."""

from collections.abc import Mapping

Rule = Mapping[str, tuple[str, Mapping[str, str]]]
"""Steps by name, the first one first: test, and by its outcomes "-> step" or the parts blamed."""

Way = tuple[tuple[str, str, str], ...]
"""Tests from source to load: test, the outcomes that are good, what lies before it; last, what lies behind all."""
