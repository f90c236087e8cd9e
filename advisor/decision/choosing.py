"""The step that advice would name for a belief, wherever in a case it stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.decision.bench import Bench
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.lookahead import Ahead, Choice, look_ahead
from advisor.decision.outlook import Outlook, Step
from advisor.decision.problem import Stage
from advisor.network.worlds import AS_DESIGNED, NONE, Floats

LIKELY = 0.5
"""Share of "nothing wrong" and "as designed" from which somebody is told so: judgement, no source."""


@dataclass(frozen=True, eq=False)
class Choosing:
    """Chooses two steps ahead, hazardous tests left out.

    Attributes:
        bench: Model, costs, and what tests would show.
        outlook: Of the problem.
        looked: How many tests and repairs are looked behind, as for `look_ahead`.
    """

    bench: Bench
    outlook: Outlook
    looked: Mapping[str, int] = field(default_factory=dict)

    def step(self, stage: Stage, belief: Floats) -> Step:
        """The step for a belief that sums to 1, shape (H,)."""
        risky = np.flatnonzero(self.bench.overload(belief) > HAZARD_SHARE).tolist()
        ahead = look_ahead(self.outlook, replace(stage, tests=stage.tests | frozenset(risky)), belief, **self.looked)
        sound = float(belief[[NONE, AS_DESIGNED]].sum())
        return best_step(ahead, len(self.bench.ground.plans), sound).step


def best_step(ahead: Ahead, explaining: int, sound: float) -> Choice:
    """The cheapest step; nobody is told that nothing is wrong while that is not what is likely."""
    if ahead.best.step != Step("repair", explaining) or sound >= LIKELY:
        return ahead.best
    others = [c for c in (*ahead.two, *ahead.one) if c.step != ahead.best.step]
    return min(others, key=lambda choice: choice.cost, default=Choice(Step("hand_over", 0), ahead.now))
