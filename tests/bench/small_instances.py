"""Complaints cut down to a few tests and repairs, small enough that the best of all plans can be found and proved.

The optimum is `find_plan`'s, whose search tries every step and every outcome and keeps a lower bound beside the plan
found, sharpened by `bench.sharper`; an instance counts as certified when both meet.  Search and bound are judged by
plain enumeration, in `tests/decision/test_search.py` and `test_bench_policies.py`.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from bench.sharper import SharpOutlook
from bench.shrinking import merged, pruned

from advisor.decision.complaint import Complaint
from advisor.decision.lookahead import look_ahead
from advisor.decision.outlook import HAND_OVER, Outlook
from advisor.decision.plan import GiveUp, HandOver, Plan, TestStep, repair_step, value_of
from advisor.decision.problem import Problem, Repairs, Stage, Tests
from advisor.decision.search import find_plan

TESTS, REPAIRS = 8, 6
GAP = 0.005
"""Share of the cost within which the optimum is known where an instance counts as certified."""
NODES = 1000
RARE = 1e-5
"""Histories that a smaller share of vehicles has end in repairs without tests, where the advisor is valued."""


@dataclass(frozen=True)
class Ratio:
    """One instance.

    Attributes:
        instance: Its name.
        tests: Number of its tests.
        classes: Number of its classes of hypotheses.
        best: Cost of the best plan known [money].
        lower: What is proved that no plan can cost less than [money].
        advisor: Cost of the plan whose every step is chosen two steps ahead [money].
    """

    instance: str
    tests: int
    classes: int
    best: float
    lower: float
    advisor: float

    @property
    def certified(self) -> bool:
        """Whether the optimum is known."""
        return self.best - self.lower <= GAP * self.best

    @property
    def ratio(self) -> float:
        """The advisor's cost over that of the best plan known."""
        return self.advisor / self.best

    @property
    def at_most(self) -> float:
        """What that ratio to the optimum is proved not to exceed."""
        return self.advisor / self.lower


def most_valued(complaint: Complaint, count: int = TESTS) -> tuple[list[int], list[int]]:
    """The tests and the repairs of largest value by one step."""
    ahead = look_ahead(complaint.outlook, complaint.problem.stage, complaint.problem.belief, tests=0, repairs=0)
    tests = [choice.step.index for choice in ahead.one if choice.step.kind == "test"]
    repairs = [choice.step.index for choice in ahead.one if choice.step.kind == "repair"]
    return sorted(tests[:count]), sorted(repairs[:REPAIRS])


def at_random(complaint: Complaint, count: int, rng: np.random.Generator) -> tuple[list[int], list[int]]:
    """Tests and repairs drawn from the thirty tests and fifteen repairs of largest value, so that they matter."""
    ahead = look_ahead(complaint.outlook, complaint.problem.stage, complaint.problem.belief, tests=0, repairs=0)
    tests = [choice.step.index for choice in ahead.one if choice.step.kind == "test"][:30]
    repairs = [choice.step.index for choice in ahead.one if choice.step.kind == "repair"][:15]
    return sorted(rng.choice(tests, count, False).tolist()), sorted(rng.choice(repairs, REPAIRS, False).tolist())


def cut(problem: Problem, tests: Sequence[int], repairs: Sequence[int]) -> Problem:
    """A problem with some of its tests and repairs, equal hypotheses as one and the lightest as a residual."""
    old, done = problem.tests, problem.repairs
    columns = np.concatenate([np.arange(old.columns[t].start, old.columns[t].stop) for t in tests])
    asked, worked = list(tests), list(repairs)
    return pruned(
        merged(
            replace(
                problem,
                tests=Tests(
                    old.likelihood[:, columns],
                    tuple(old.outcomes[t] for t in tests),
                    old.price[asked],
                    old.minutes[asked],
                    old.place[asked],
                ),
                repairs=Repairs(
                    done.after[worked],
                    done.success[worked],
                    done.otherwise[worked],
                    done.price[worked],
                    done.minutes[worked],
                    done.place[worked],
                ),
                explain=worked.index(problem.explain) if problem.explain in worked else None,
            )
        ).problem,
        1e-4,
    )


def ratio_of(name: str, problem: Problem, nodes: int = NODES) -> Ratio:
    """Search for the optimum of a small problem and value the advisor's own plan beside it."""
    found = find_plan(problem, nodes=nodes, gap=GAP, outlook=SharpOutlook.of(problem))
    own = value_of(problem, by_steps(Outlook.of(problem), problem.stage, problem.belief)).cost
    best = min(found.cost, own)
    return Ratio(name, len(problem.tests.price), len(problem.belief), best, min(found.lower, best), own)


def by_steps(outlook: Outlook, stage: Stage, weights: np.ndarray) -> Plan:
    """The plan whose every step is chosen two steps ahead, as far as some vehicle comes to it."""
    total = float(weights.sum())
    if total < RARE:
        return GiveUp()
    step = look_ahead(outlook, stage, weights / total).best.step
    if step == HAND_OVER:
        return HandOver()
    joint, then = outlook.after(step, weights, stage)
    branches = tuple(by_steps(outlook, then, outcome) for outcome in joint.T)
    if step.kind == "test":
        return TestStep(step.index, branches)
    return repair_step(outlook.problem, step.index, branches[0])


def rows(complaint: Complaint, name: str, drawn: int, tests: int, nodes: int) -> list[Ratio]:
    """The instance of largest values and some drawn ones."""
    rng = np.random.default_rng(zlib.crc32(name.encode()))  # the same for a name, whatever else is asked
    chosen = [("largest", most_valued(complaint, tests))]
    chosen += [(f"drawn {i}", at_random(complaint, tests, rng)) for i in range(drawn)]
    return [ratio_of(f"{name}, {which}", cut(complaint.problem, *subset), nodes) for which, subset in chosen]
