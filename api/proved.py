"""What the findings have cleared: parts that were suspects at first and are none any more."""

from __future__ import annotations

from collections import defaultdict

from advisor.contract.answer import AdviceAnswer
from advisor.contract.engine import KnownModel
from advisor.contract.wording import part_title

SUSPECT, CLEARED = 0.01, 0.002
"""Share of all faults from which a part is a suspect, and up to which it is none: judgement, no source."""
SHOWN = 12


def proved_good(began: AdviceAnswer, now: AdviceAnswer, model: KnownModel) -> tuple[str, ...]:
    """Name the parts that were suspects on the complaint alone and are cleared now, the greatest suspect first."""
    before, after = _shares(began), _shares(now)
    cleared = [part for part, share in before.items() if share >= SUSPECT and after.get(part, 0.0) <= CLEARED]
    cleared.sort(key=lambda part: -before[part])
    return tuple(part_title(model.schematic, part) for part in cleared[:SHOWN])


def _shares(answer: AdviceAnswer) -> dict[str, float]:
    shares: defaultdict[str, float] = defaultdict(float)
    for cause in answer.causes:
        shares[cause.part] += cause.probability
    return shares
