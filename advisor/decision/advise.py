"""From findings to advice: ranked causes, worth of every next test, the next step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.decision.advice import Advice, Bearings, CauseShare, Costs, NextStep, NotProved, RepairShare
from advisor.decision.bearings import bearings_at, bearings_for, suspected
from advisor.decision.bench import Bench
from advisor.decision.case import looks, shows
from advisor.decision.estimate import Allowed
from advisor.decision.guard import guard_of
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.history import history_of
from advisor.decision.next_step import MIRRORED_ABOVE, RECHECK_ABOVE, asked_for, next_step
from advisor.decision.reasons import Explaining
from advisor.decision.valued import Reported, Valued, one_step, two_steps
from advisor.errors import ImpossibleFindingsError, RequestProblem
from advisor.knowledge.catalogue import Withheld
from advisor.knowledge.model import Marginals, Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import Posterior
from advisor.network.findings import (
    DeclinedFinding,
    Finding,
    OutcomeFinding,
    ReadingFinding,
    RepairFinding,
    SymptomFinding,
)

BELIEFS: Mapping[int, int] = {3: 20, 4: 60}
"""How many later beliefs each depth beyond two looks at: about 1.5 and 5 s on a shipped circuit."""


def decide(  # noqa: PLR0913  the contract's own signature
    model: Model,
    findings: Sequence[Finding],
    *,
    years: float = Vehicle.years,
    hours: float = Vehicle.hours,
    opened: frozenset[str] = frozenset(),
    costs: Costs = Costs(),  # noqa: B008  frozen, so one default serves all calls
    depth: int = 2,
    reasons: bool = False,
    allowed: Allowed | None = None,
) -> Advice:
    """Rank the causes and value every next step for one set of findings.

    Args:
        model: The circuit.
        findings: What was reported and measured.
        years: The vehicle's age [years].
        hours: Its engine hours [h].
        opened: Places that stand open.
        costs: Labour rate and hand-over price.
        depth: How many steps are looked ahead, one or two; 3 and 4 follow the best two-step advice to the end.
        reasons: Whether to say what each finding says of the first causes.
        allowed: What is left of what the customer authorised; None where nothing is limited.

    Raises:
        RequestError: a finding names something that this circuit does not have.
        ImpossibleFindingsError: the findings have probability zero.
    """
    root = model.prior(Vehicle(years, hours))
    history = history_of(model, root, findings)
    belief = history.posterior(model, root)
    if belief is None:
        raise ImpossibleFindingsError(
            [RequestProblem(f"#/findings/{i}", "these findings cannot all be true") for i in range(len(findings))]
        )
    bench = Bench(model, opened, costs, model.worlds_given(belief.states, findings))
    left = _left(bench, belief, findings)
    reported = [f.symptom for f in findings if isinstance(f, SymptomFinding) and f.present]
    valued = (
        two_steps(
            bench, belief.showing, left, reported, answered=_answered(model, findings), beliefs=BELIEFS.get(depth, 0)
        )
        if depth > 1
        else one_step(bench, belief.showing, left, _reported(bench, reported, _answered(model, findings)))
    )
    step = next_step(bench, belief, valued, findings, reported)
    asked = asked_for(bench, belief, valued, step, allowed or Allowed(), (left, reported))
    if asked:
        step = NextStep("ask_customer", None, "the next step exceeds what is left of what the customer authorised")
    shares = model.marginals(belief, findings)
    causes = _causes(bench, shares, findings)
    return Advice(
        evidence_probability=belief.evidence / float(root.weights.sum()),
        omitted_mass=root.omitted,
        conflict_decibans=belief.conflict_decibans,
        no_fault=shares.no_fault,
        as_designed=shares.as_designed,
        unlisted=shares.unlisted,
        causes=causes,
        tests=valued.worths,
        withheld=_withheld(bench, belief),
        repairs=_repairs(bench, belief, valued),
        next=step,
        expected_cost_now=valued.now,
        expected_cost_after_next=valued.after,
        least_cost=valued.lower,
        not_proved=_not_proved(bench, belief, left),
        asked=asked,
        stopping=valued.stopping,
        supply=model.supply(belief.states),
        mirrored=belief.mirrored,
        bearings=_bearings(bench, belief, step, left),
        expected_slips=belief.slips,
        hiding=belief.hiding,
        reasons=Explaining(model, root, history, belief).reasons(causes, RECHECK_ABOVE) if reasons else None,
    )


def _reported(bench: Bench, symptoms: Sequence[str], answered: frozenset[int]) -> Reported:
    looking = looks(bench.model, symptoms)
    return Reported(1.0 - shows(bench, symptoms), looking, bool(answered & looking))


def _answered(model: Model, findings: Sequence[Finding]) -> frozenset[int]:
    """Tests that have been answered."""
    return frozenset(model.positions[f.test] for f in findings if isinstance(f, OutcomeFinding | ReadingFinding))


def _bearings(bench: Bench, belief: Posterior, step: NextStep, left: Sequence[int]) -> Bearings | None:
    """What finds the bearings before the next step, or at a connector that seems to be read from the other side."""
    model, tests = bench.model, bench.model.compiled.tests
    ids = [tests[i].id for i in left]
    doubtful = suspected(belief, MIRRORED_ABOVE)
    if doubtful is not None:
        return bearings_at(model, belief, doubtful, ids)
    return bearings_for(model, belief, step.id, ids) if step.kind == "test" and step.id is not None else None


def _left(bench: Bench, belief: Posterior, findings: Sequence[Finding]) -> list[int]:
    """Tests that are neither answered since the last repair, declined nor a risk."""
    last = max((i for i, f in enumerate(findings) if isinstance(f, RepairFinding)), default=0)
    done = {f.test for f in findings[last:] if isinstance(f, OutcomeFinding | ReadingFinding)}
    done |= {f.test for f in findings if isinstance(f, DeclinedFinding)}
    over = bench.overload(belief.weights)
    return [i for i, t in enumerate(bench.model.compiled.tests) if t.id not in done and over[i] <= HAZARD_SHARE]


def _not_proved(bench: Bench, belief: Posterior, left: Sequence[int]) -> tuple[NotProved, ...]:
    prices = [bench.costs.labour(bench.test_minutes(bench.model.compiled.tests[i])) for i in left]
    return guard_of(bench.model).not_proved(bench.worlds, belief.showing, left, prices)


def _withheld(bench: Bench, belief: Posterior) -> tuple[Withheld, ...]:
    over = bench.overload(belief.weights)
    reason = "the jumper could draw more than its fuse carries, here or one cavity off, while a short is not ruled out"
    risky = [
        Withheld(t.id, t.title, reason)
        for t, p in zip(bench.model.compiled.tests, over, strict=True)
        if p > HAZARD_SHARE
    ]
    return (*bench.model.withheld, *risky)


def _causes(bench: Bench, shares: Marginals, findings: Sequence[Finding]) -> tuple[CauseShare, ...]:
    model = bench.model
    reported = {f.symptom for f in findings if isinstance(f, SymptomFinding) and f.present}
    charts = [chart for chart in model.schematic.charts if chart.symptom in reported]
    blamed = frozenset(part for chart in charts for part in chart.blamed)
    repair = {cause: plan.id for plan in reversed(bench.ground.plans) for cause in plan.restores}
    rows = [
        CauseShare(
            cause.part,
            cause.mode.id,
            float(shares.causes[i]),
            float(shares.low[i]),
            float(shares.high[i]),
            repair.get(cause.id),
            (cause.part in blamed) if charts else None,
            model.sections[cause.part],
        )
        for i, cause in enumerate(model.wiring.causes)
    ]
    return tuple(sorted(rows, key=lambda s: (-s.probability, s.part, s.mode)))


def _repairs(bench: Bench, belief: Posterior, valued: Valued) -> tuple[RepairShare, ...]:
    """Repairs in the order in which they would be tried."""
    probability = bench.ground.touched.sums(bench.masses(belief.weights))[:, 0]
    prices = bench.prices(bench.opened)
    return tuple(
        RepairShare(
            plan.id,
            plan.title,
            bench.repair_minutes(plan, bench.opened),
            float(prices[index]),
            float(probability[index]),
            plan.cautions,
            plan.spares,
        )
        for index in valued.order
        if index < len(bench.ground.plans)
        for plan in (bench.ground.plans[index],)
    )
