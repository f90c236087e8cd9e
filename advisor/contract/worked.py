"""Where somebody has worked lately, or added equipment: the faults that such work brings are likelier there.

It says something of the vehicle before anything is tested, so it multiplies rates, as a release of priors does.
"""

from __future__ import annotations

from collections.abc import Sequence

from advisor.contract.engine import KnownModel
from advisor.contract.request import WorkedIn
from advisor.contract.wording import part_place, part_type
from advisor.knowledge.documents import Schematic
from advisor.knowledge.places import path
from advisor.knowledge.telling import WORK_TIMES

_JOINED = frozenset({"conductor", "gap"})
"""Kinds of parts that a hand unplugs, bends, pinches or bridges; lamps of the wrong kind are among them."""


def after_work(model: KnownModel, worked: Sequence[WorkedIn]) -> KnownModel:
    """The model with rates multiplied where somebody has worked; a part counts once, whatever was done to it."""
    meant = sorted({part for part in model.cause_parts for work in worked if _is_meant(part, work, model.schematic)})
    if not meant:
        return model
    causes = [cause for cause in model.cause_ids if cause.rpartition("/")[0] in meant]
    factors = {**model.factors, **{cause: WORK_TIMES * model.factors.get(cause, 1.0) for cause in causes}}
    return model.with_priors(f"{model.priors}, worked on: {', '.join(meant)}", factors)


def _is_meant(part: str, work: WorkedIn, schematic: Schematic) -> bool:
    """Whether a part sits at the place, or inside of it, and is what equipment is tapped into, or work disturbs."""
    place, known = part_place(schematic, part), schematic.library.types.get(part_type(schematic, part))
    if place is None or work.place not in path(schematic.places, place):
        return False
    if any(part in shelf for shelf in (schematic.wires, schematic.splices, schematic.grounds)):
        return True
    return work.what == "work" and known is not None and known.kind in _JOINED
