"""The step that advice would name for a belief, wherever in a case it stands."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.decision.bench import Bench
from advisor.decision.edges import margin, sharpest
from advisor.decision.guard import guard_of
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.lookahead import Ahead, Choice, look_ahead
from advisor.decision.outlook import Outlook, Step
from advisor.decision.problem import Stage
from advisor.network.worlds import AS_DESIGNED, NONE, Floats

LIKELY = 0.5
"""Share of what does not show the complaint, or shows it by design, from which somebody is told so: judgement."""
_DIGITS = 9
"""Costs that agree to so many decimals are one [money]: left and right lamps differ by rounding only."""


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
        problem = self.outlook.problem
        looked = bool(stage.tests & problem.looks)
        stage = self._safe(stage, belief)
        ahead = look_ahead(self.outlook, stage, belief, **self.looked)
        looks = frozenset[int]() if looked else problem.looks
        best = best_step(ahead, len(self.bench.ground.plans), sound(problem.passes, belief, looked=looked), looks)
        return self.guarded(ahead, self.untied(ahead, best, stage, belief), stage, belief).step

    def untied(self, ahead: Ahead, best: Choice, stage: Stage, belief: Floats) -> Choice:
        """Of tests that cost about the same as a best one that pays, that which tells repairs apart best."""
        if best.step.kind != "test" or best.cost >= ahead.now:
            return best
        costs = {choice.step: max(choice.cost, best.cost) for choice in (*ahead.one, *ahead.two)}
        costs[best.step] = best.cost  # in full, which is less
        close = [s for s, c in costs.items() if s.kind == "test" and c <= best.cost + margin(ahead.now - best.cost)]
        close.sort(key=lambda s: (round(costs[s], _DIGITS), s))
        step = Step("test", sharpest(self.outlook, stage, belief, [s.index for s in close]))
        return Choice(step, costs[step])

    def _safe(self, stage: Stage, belief: Floats) -> Stage:
        """The stage with hazardous tests left out."""
        risky = np.flatnonzero(self.bench.overload(belief) > HAZARD_SHARE).tolist()
        return replace(stage, tests=stage.tests | frozenset(risky))

    def guarded(self, ahead: Ahead, best: Choice, stage: Stage, belief: Floats) -> Choice:
        """The best choice, or where that condemns a unit too early the best test that proves what is missing."""
        proving = self._proving(best.step, stage, belief)
        if not proving:
            return best
        costs = {choice.step: choice.cost for choice in (*ahead.one, *ahead.two)}
        return min((Choice(step, costs[step]) for step in proving), key=lambda c: (c.cost, c.step))

    def too_early(self, repair: int, stage: Stage, belief: Floats) -> bool:
        """Whether a repair condemns a unit of which a test that is left could prove more."""
        return bool(self._proving(Step("repair", repair), self._safe(stage, belief), belief))

    def _proving(self, step: Step, stage: Stage, belief: Floats) -> list[Step]:
        guard = guard_of(self.bench.model)
        if step.kind != "repair" or step.index not in guard.held:
            return []
        tests = self.outlook.problem.tests_left(stage)
        return [Step("test", test) for test in guard.proving(self.bench.worlds, belief, step.index, tests)]


def sound(passes: Floats, belief: Floats, *, looked: bool) -> float:
    """Share of what does not show the complaint, or by design; before a look at it, of what has no fault at all."""
    shown = belief @ (1.0 - passes) - belief[AS_DESIGNED] * (1.0 - passes[AS_DESIGNED])
    return float(1.0 - shown if looked else belief[[NONE, AS_DESIGNED]].sum())


def best_step(ahead: Ahead, explaining: int, sound: float, looks: Collection[int]) -> Choice:
    """The cheapest step; nobody is told that nothing is wrong while it is likely that the complaint shows.

    The cheapest look at the complaint comes first then, if one of `looks` is left; nothing else saves anything.
    Without it, what a weak battery makes was looked at all round: 4.9 tests and 42 instead of 38 on one complaint.

    Held against "nothing wrong" alone, faults that do not show the complaint let one look follow another that tells
    nothing: two steps cost 86 instead of 78 on one complaint, 73 instead of 69 on another.
    """
    if ahead.best.step != Step("repair", explaining) or sound >= LIKELY:
        return ahead.best
    others = [c for c in (*ahead.two, *ahead.one) if c.step != ahead.best.step]
    looking = [c for c in others if c.step.kind == "test" and c.step.index in looks]
    return min(looking or others, key=lambda choice: choice.cost, default=Choice(Step("hand_over", 0), ahead.now))
