"""How often the step that the bench takes from arrays is the one that advice names after the same findings.

Arrays take outcomes as independent given the fault; advice lets findings share the supply, the black lead and slips of
a place.  After one finding both are the same, after several they may part.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from bench.policies_known import next_step
from bench.policy_walk import Chooser, Described, Drawn, draw, lead

from advisor.decision.advise import decide
from advisor.decision.complaint import Complaint
from advisor.decision.outlook import HAND_OVER, Step
from advisor.decision.problem import Stage
from advisor.network.findings import Finding, OutcomeFinding, SymptomFinding


class _Told(Described):
    """Drawn vehicles whose outcomes are kept as findings."""

    def __init__(self, complaint: Complaint, symptom: str, drawn: Drawn) -> None:
        super().__init__(complaint.problem, drawn)
        self.model, self.findings = complaint.bench.model, [SymptomFinding(symptom)]

    def outcomes(self, rows: np.ndarray, test: int) -> np.ndarray:
        """Note the outcome of the one vehicle."""
        shown, asked = super().outcomes(rows, test), self.model.compiled.tests[test]
        self.findings: list[Finding] = [*self.findings, OutcomeFinding(asked.id, asked.outcomes[int(shown[0])].id)]
        return shown


def agreement(complaint: Complaint, symptom: str, vehicles: int, depth: int, rng: np.random.Generator) -> list[bool]:
    """Whether both name the same step, at every history up to the first repair of some vehicles, led by the bench."""
    drawn, same = draw(complaint.problem, vehicles, rng), []
    for row in range(vehicles):
        one = Drawn(*(getattr(drawn, name)[row : row + 1] for name in Drawn.__dataclass_fields__))
        world = _Told(complaint, symptom, one)

        def choose(stage: Stage, belief: np.ndarray, _: float, world: _Told = world) -> Step:
            step = next_step(complaint, stage, belief, depth)
            if stage.repairs:
                return HAND_OVER
            same.append(step == _advised(complaint, world.findings, stage, depth))
            return step

        lead(complaint.problem, Chooser(choose), world)
    return same


def _advised(complaint: Complaint, findings: list[Finding], stage: Stage, depth: int) -> Step:
    """The step that advice names."""
    model, places = complaint.bench.model, list(complaint.bench.model.schematic.places)
    opened = frozenset(places[i] for i in stage.opened)
    named = decide(model, findings, opened=opened, costs=complaint.bench.costs, depth=depth).next
    plans = [plan.id for plan in complaint.bench.ground.plans]
    if named.kind == "test":
        return Step("test", model.positions[named.id])
    if named.kind == "repair":
        return Step("repair", plans.index(named.id))
    return replace(HAND_OVER, **({"kind": "repair", "index": len(plans)} if named.kind in EXPLAINS else {}))


EXPLAINS = ("no_fault", "as_designed")
"""What advice calls explaining."""
