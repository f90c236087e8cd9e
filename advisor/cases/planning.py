"""Plans for the complaints of cases: made one at a time, since one takes seconds, and kept for a while."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field

from advisor.cases.book import CaseBook
from advisor.cases.state import CaseState
from advisor.contract import service
from advisor.contract.answer import Release
from advisor.contract.case_plan import CasePlan
from advisor.contract.engine import KnownModel
from advisor.contract.plan_answer import PlanAnswer, present_plan
from advisor.decision.advice import Costs
from advisor.decision.complaint import complaint_of
from advisor.decision.conditional import plan_for
from advisor.errors import BusyError, CaseStateError, RequestProblem
from advisor.knowledge.prevalence import Vehicle

MOST = 32
Asked = tuple[str, str, str, Vehicle, Costs]
"""Knowledge, priors, symptom, vehicle and costs: all that a plan depends on."""
Make = Callable[[KnownModel, str, Vehicle, Costs], PlanAnswer]


def made(model: KnownModel, symptom: str, vehicle: Vehicle, costs: Costs) -> PlanAnswer:
    """Make the plan for a complaint; raises ImpossibleFindingsError where nothing shows it."""
    complaint = complaint_of(model, symptom, vehicle, costs)  # type: ignore[arg-type] # every model on a shelf is one
    return present_plan(complaint, symptom, plan_for(complaint))


@dataclass(frozen=True)
class Planner:
    """Makes and keeps plans; `make` is what takes the time."""

    make: Make = made
    kept: OrderedDict[Asked, PlanAnswer] = field(default_factory=OrderedDict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def plan(self, cases: CaseBook, shop: str, case: str) -> CasePlan:
        """Give the plan for a case's complaint.

        Raises:
            UnknownCaseError: the shop has no such case.
            CaseStateError: the case has no symptom.
            BusyError: another plan is being made.
        """
        state = cases.state(shop, case)
        plan = self._plan(service.known_model(state.opened.circuit, cases.engine_of(shop, state)), state)
        changed = plan.release != Release.model_validate(state.release)
        return CasePlan(case=case, version=state.version, release_changed=changed, plan=plan)

    def _plan(self, model: KnownModel, state: CaseState) -> PlanAnswer:
        opened = state.opened
        if opened.symptom is None:
            raise CaseStateError([RequestProblem("#/symptom", "the case was opened without a symptom to plan for")])
        vehicle, costs = Vehicle(opened.vehicle.years, opened.vehicle.hours), Costs(**opened.costs.model_dump())
        asked = (model.knowledge, model.priors, opened.symptom, vehicle, costs)
        if (known := self.kept.get(asked)) is not None:
            return known
        if not self.lock.acquire(blocking=False):
            raise BusyError("another plan is being made; each takes some seconds")
        try:
            plan = self.kept[asked] = self.make(model, opened.symptom, vehicle, costs)
            while len(self.kept) > MOST:
                self.kept.popitem(last=False)
            return plan
        finally:
            self.lock.release()
