"""The one path of every front end: what was sent, checked against the circuit, decided, worded."""

from __future__ import annotations

from pydantic import ValidationError

from advisor.contract.answer import AdviceAnswer, present
from advisor.contract.body import Json, parse_json
from advisor.contract.engine import Decide, Engine, KnownModel
from advisor.contract.evidence import Evidence, to_findings
from advisor.contract.listing import CircuitList, circuit_list
from advisor.contract.nearest import unknown
from advisor.contract.refusals import broken_findings, problems_of
from advisor.contract.request import FINDING, AdviceRequest
from advisor.contract.worked import after_work
from advisor.decision.advice import Costs
from advisor.decision.estimate import Allowed
from advisor.errors import AdvisorError, RequestError, RequestProblem, UnknownModelError


def answer(raw: bytes, engine: Engine) -> AdviceAnswer:
    """Answer a request as JSON text; raises RequestError with everything that is wrong."""
    return answer_body(parse_json(raw), engine)


def answer_body(body: Json, engine: Engine) -> AdviceAnswer:
    """Answer a request as JSON values; raises RequestError with everything that is wrong."""
    request = parse_request(body, engine)
    return advise(known_in_request(request.circuit, engine), request, engine.decide)


def parse_request(body: Json, engine: Engine) -> AdviceRequest:
    """Check a request as far as its circuit is known; raises RequestError with everything that is wrong."""
    try:
        return AdviceRequest.model_validate(body)
    except ValidationError as error:
        raise RequestError([*problems_of(error), *_problems_beside(body, error, engine)]) from error


def advise(model: KnownModel, request: AdviceRequest, decide: Decide) -> AdviceAnswer:
    """Answer a request on a loaded model; raises RequestError with everything that is wrong."""
    findings = to_findings(request, model)
    advice = decide(
        after_work(model, request.worked),
        findings,
        years=request.vehicle.years,
        hours=request.vehicle.hours,
        opened=frozenset(request.opened),
        costs=Costs(**request.costs.model_dump()),
        depth=request.depth,
        reasons=request.reasons,
        allowed=_allowed(request),
    )
    return present(model, request, findings, advice)


def _allowed(request: AdviceRequest) -> Allowed:
    """What is left of what the customer authorised, nothing where it is used up."""
    whole, spent = request.authorised, request.spent
    return Allowed(
        None if whole.money is None else max(whole.money - spent.money, 0.0),
        None if whole.minutes is None else max(whole.minutes - spent.minutes, 0.0),
    )


def listed(engine: Engine) -> CircuitList:
    """List the circuits of the shelf; one that cannot be loaded is named and keeps none of the others away."""
    good, broken = [], []
    for name in engine.circuits():
        try:
            good.append(engine.load(name).schematic)
        except AdvisorError:
            broken.append(name)
    return circuit_list(good).model_copy(update={"broken": tuple(sorted(broken))})


def known_model(circuit: str, engine: Engine) -> KnownModel:
    """Load a circuit of the shelf by its id, never by a path; raises UnknownModelError."""
    circuits = engine.circuits()
    if circuit not in circuits:
        raise UnknownModelError(unknown("circuit", circuit, circuits))
    return engine.load(circuit)


def known_in_request(circuit: str, engine: Engine) -> KnownModel:
    """Load the circuit that a request names; raises RequestError that points at it."""
    try:
        return known_model(circuit, engine)
    except UnknownModelError as error:
        raise RequestError([RequestProblem("#/circuit", str(error))]) from error


def _problems_beside(body: Json, error: ValidationError, engine: Engine) -> list[RequestProblem]:
    """Give what is wrong in the parts that have the right form, so that one round trip tells everything."""
    circuit = body.get("circuit") if isinstance(body, dict) else None
    if (
        not isinstance(body, dict)
        or not isinstance(circuit, str)
        or any(e["loc"] == ("circuit",) for e in error.errors())
    ):
        return []
    try:
        checked = Evidence(known_in_request(circuit, engine))
    except RequestError as refused:
        return list(refused.problems)
    broken, findings, opened = broken_findings(error), body.get("findings", ()), body.get("opened", ())
    if broken is not None and isinstance(findings, list):
        for place, finding in enumerate(findings):
            if place not in broken:
                checked.add(place, FINDING.validate_python(finding))
    if isinstance(opened, list):
        checked.places(opened)
    return checked.problems
