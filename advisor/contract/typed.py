"""Numbers and readings as a person types them: 11.8, 11,8 V, 350mV, over."""

from __future__ import annotations

import re

from advisor.contract.body import Json, pointer
from advisor.contract.nearest import shown
from advisor.errors import RequestProblem

OVER_RANGE = ("over", "ol")
# What a keypad can give: Python's float also takes nan, inf, underscores and exponents.
_NUMBER = re.compile(r"[+-]?(\d{1,12}([.,]\d{0,12})?|[.,]\d{1,12})", re.ASCII)
_AMOUNT = re.compile(r"(.*?)\s*(?:([mk]?)(V|A|ohms?|Ω|Ω))?", re.IGNORECASE | re.DOTALL)


def is_over_range(text: str) -> bool:
    """Tell whether a typed reading says that the meter is over range."""
    return text.strip().lower() in OVER_RANGE


def typed_reading(test: str, text: str, place: int, problems: list[RequestProblem]) -> Json:
    """Give a typed reading as the finding at a place of the request; what is no number is added to the problems."""
    if is_over_range(text):
        return {"kind": "reading", "test": test, "over_range": True}
    match = _AMOUNT.fullmatch(text.strip())
    number, unit = (match[1], _unit(match[2] or "", match[3] or "")) if match else (text, "")
    value = typed_number(number, pointer("findings", place, "value"), problems)
    return {"kind": "reading", "test": test, "value": value, "unit": unit}


def _unit(prefix: str, letters: str) -> str:
    """Spell a typed unit as the contract does; only with ohms do small and capital M differ."""
    if letters.upper() in ("", "V", "A"):
        return prefix.lower() + letters.upper()
    return ("M" if prefix == "M" else prefix.lower()) + "ohm"


def typed_number(text: str, where: str, problems: list[RequestProblem]) -> float:
    """Give a typed number; what is none is added to the problems with its pointer and read as zero."""
    plain = text.strip().replace("−", "-")
    if _NUMBER.fullmatch(plain):
        return float(plain.replace(",", "."))
    problems.append(RequestProblem(where, f"expected a number such as 11.8, not {shown(text)}"))
    return 0.0
