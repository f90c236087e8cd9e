"""A complaint before anything has been measured, as a problem to be decided."""

from __future__ import annotations

from dataclasses import dataclass, replace

from advisor.decision.advice import Costs
from advisor.decision.bench import Bench
from advisor.decision.case import case_of
from advisor.decision.outlook import Outlook
from advisor.decision.problem import Problem
from advisor.errors import ImpossibleFindingsError, RequestProblem
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import posterior
from advisor.network.findings import SymptomFinding


@dataclass(frozen=True, eq=False)
class Complaint:
    """A symptom that a customer reports.

    Attributes:
        bench: Model, costs, and what tests would show at the usual supply; nothing is open.
        problem: With the belief that the report leaves.
        outlook: Of the problem.
    """

    bench: Bench
    problem: Problem
    outlook: Outlook


def complaint_of(
    model: Model,
    symptom: str,
    vehicle: Vehicle = Vehicle(),  # noqa: B008  frozen, so one default serves all calls
    costs: Costs = Costs(),  # noqa: B008  the same
) -> Complaint:
    """Weigh a report of one symptom.

    Raises:
        RequestError: the circuit has no such symptom.
        ImpossibleFindingsError: nothing in the model shows it.
    """
    root = model.prior(vehicle)
    belief = posterior(model.worlds, root, model.evidence([SymptomFinding(symptom)], root), model.axis.prior)
    if belief is None:
        raise ImpossibleFindingsError([RequestProblem("#/findings/0", "nothing in this circuit shows this symptom")])
    bench = Bench(model, frozenset(), costs, model.worlds_given(belief.states, [SymptomFinding(symptom)]))
    case = case_of(bench, (symptom,), tuple(range(len(model.compiled.tests))))
    return Complaint(bench, replace(case.outlook.problem, belief=belief.showing), case.outlook)
