"""Safety lines by id, as places, part types, tests and repairs of the knowledge files name them.

The part library has their sentences; the one of who comes first is said here, so that no file can leave it out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache

from pydantic import BaseModel, ConfigDict

from advisor.knowledge.library import Library

LEVELS = ("danger", "caution", "note")


class Caution(BaseModel):
    """A safety line: its id, how serious it is (danger, caution or note), the sentence, and where it comes from."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    level: str
    text: str
    source: str = ""


MAKER_PROCEDURE = "maker-procedure"
_LAST = (
    "note",
    "The vehicle maker's procedure, local codes and licensed practice come first: they go before anything said here.",
    "common practice, no source",
)


def cautions(ids: Iterable[str], library: Library) -> tuple[Caution, ...]:
    """Give the safety lines of the ids, the most serious first, that of who comes first always last."""
    named = dict.fromkeys(name for name in ids if name != MAKER_PROCEDURE)
    lines = sorted((_caution(name, library) for name in named), key=lambda line: LEVELS.index(line.level))
    level, text, source = _LAST
    return (*lines, Caution(id=MAKER_PROCEDURE, level=level, text=text, source=source))


Told = Callable[[tuple[str, ...]], tuple[Caution, ...]]


def teller(library: Library) -> Told:
    """Give the same for many steps, of which few differ in their ids."""
    return cache(lambda ids: cautions(ids, library))


def _caution(name: str, library: Library) -> Caution:
    # A caution that the library does not know is still shown, by its own name, rather than lost.
    known = library.cautions.get(name)
    if known is None:
        return Caution(id=name, level="caution", text=f"Take care: {name.replace('-', ' ')}.", source="")
    return Caution(id=name, level=known.level, text=known.text, source=known.source)
