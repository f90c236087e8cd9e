"""From findings to advice: ranked causes, worth of every next test, the next step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from advisor.decision.advice import Advice, Asked, CauseShare, Costs, NextStep, NotProved, RepairShare
from advisor.decision.bench import EXPLAIN_MINUTES, Bench
from advisor.decision.case import case_of, ended
from advisor.decision.estimate import Allowed, estimate
from advisor.decision.guard import guard_of
from advisor.decision.hazards import HAZARD_SHARE
from advisor.decision.history import history_of
from advisor.decision.outlook import HAND_OVER, Step
from advisor.decision.provoking import provoke
from advisor.decision.reasons import Explaining
from advisor.decision.valued import Valued, one_step, two_steps
from advisor.errors import ImpossibleFindingsError, RequestProblem
from advisor.knowledge.catalogue import Withheld
from advisor.knowledge.model import Model
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
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED

RECHECK_ABOVE = 0.5
"""Expected number of slips among the findings from which a recheck is asked for: measured on a prototype circuit."""
BELIEFS: Mapping[int, int] = {3: 20, 4: 60}
"""How many later beliefs each depth beyond two looks at: about 1.5 and 5 s on a shipped circuit."""
RECHECK = "but one finding fits badly: check its cavity, the side that the plug is seen from, and the value again"
RECHECK_BLACK = (
    "but the voltages fit better if the black lead has no good ground: put it on the battery's negative post"
)

PROVED = (
    "the complaint is gone: see it work once more under every condition that it came with, put back what was "
    "unplugged, jumped or pulled, and close the case"
)
HIDES_ABOVE = 0.5
"""Probability of a fault that has not shown in any test from which the advice is to provoke it."""


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
    bench = Bench(model, opened, costs, model.worlds_at(belief.states))
    left = _left(bench, belief, findings)
    reported = [f.symptom for f in findings if isinstance(f, SymptomFinding) and f.present]
    valued = (
        two_steps(bench, belief.weights, left, reported, BELIEFS.get(depth, 0))
        if depth > 1
        else one_step(bench, belief.weights, left)
    )
    step = _next(bench, belief, valued)
    if _proved(findings) and ended(bench, reported) @ belief.weights <= valued.now:
        step = NextStep("no_fault", None, PROVED)
    supply = model.supply(belief.states)
    if supply is not None and supply.black_lead_astray >= RECHECK_ABOVE:
        step = replace(step, reason=f"{step.reason}; {RECHECK_BLACK}")
    elif belief.slips >= RECHECK_ABOVE:
        step = replace(step, reason=f"{step.reason}; {RECHECK}")
    if belief.hiding >= HIDES_ABOVE and not _proved(findings):
        step = replace(step, reason=f"{step.reason}; {provoke(model, belief)}")
    asked = _asked(bench, belief, valued, step, allowed or Allowed(), (left, reported))
    if asked:
        step = NextStep("ask_customer", None, "the next step exceeds what is left of what the customer authorised")
    causes = _causes(bench, belief, findings)
    return Advice(
        evidence_probability=belief.evidence / float(root.weights.sum()),
        omitted_mass=root.omitted,
        conflict_decibans=belief.conflict_decibans,
        no_fault=float(belief.weights[NONE]),
        as_designed=float(belief.weights[AS_DESIGNED]),
        unlisted=float(belief.weights[UNLISTED]),
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
        supply=supply,
        expected_slips=belief.slips,
        hiding=belief.hiding,
        reasons=Explaining(model, root, history, belief).reasons(causes, RECHECK_ABOVE) if reasons else None,
    )


def _proved(findings: Sequence[Finding]) -> bool:
    """Whether the complaint was gone after the last repair."""
    done = [f for f in findings if isinstance(f, RepairFinding)]
    return bool(done) and done[-1].result == "gone"


def _left(bench: Bench, belief: Posterior, findings: Sequence[Finding]) -> list[int]:
    """Tests that are neither answered since the last repair, declined nor a risk."""
    last = max((i for i, f in enumerate(findings) if isinstance(f, RepairFinding)), default=0)
    done = {f.test for f in findings[last:] if isinstance(f, OutcomeFinding | ReadingFinding)}
    done |= {f.test for f in findings if isinstance(f, DeclinedFinding)}
    over = bench.overload(belief.weights)
    return [i for i, t in enumerate(bench.model.compiled.tests) if t.id not in done and over[i] <= HAZARD_SHARE]


def _not_proved(bench: Bench, belief: Posterior, left: Sequence[int]) -> tuple[NotProved, ...]:
    prices = [bench.costs.labour(bench.test_minutes(bench.model.compiled.tests[i])) for i in left]
    return guard_of(bench.model).not_proved(bench.worlds, belief.weights, left, prices)


def _asked(  # noqa: PLR0913, PLR0917  all that a step is chosen by
    bench: Bench,
    belief: Posterior,
    valued: Valued,
    step: NextStep,
    allowed: Allowed,
    about: tuple[Sequence[int], Sequence[str]],
) -> Asked | None:
    """The step with its estimate where it exceeds what is allowed; to look at readings again costs nothing."""
    cost, minutes = _price(bench, valued.best)
    if step.kind == "unlisted" or allowed.covers(cost, minutes):
        return None
    left, reported = about
    case = case_of(bench, tuple(reported), tuple(left))
    found = estimate(case.outlook, case.stage, belief.weights, valued.best, valued.after)
    return Asked(step.kind, step.id, cost, minutes, found)


def _price(bench: Bench, step: Step) -> tuple[float, float]:
    """What a step costs [money] and takes [min]."""
    if step == HAND_OVER:
        return bench.costs.hand_over, 0.0
    if step.kind == "test":
        minutes = bench.test_minutes(bench.model.compiled.tests[step.index])
        return bench.costs.labour(minutes), minutes
    plans = bench.ground.plans
    minutes = bench.repair_minutes(plans[step.index], bench.opened) if step.index < len(plans) else EXPLAIN_MINUTES
    return float(bench.prices(bench.opened)[step.index]), minutes


def _withheld(bench: Bench, belief: Posterior) -> tuple[Withheld, ...]:
    over = bench.overload(belief.weights)
    reason = "the jumper could draw more than its fuse carries, here or one cavity off, while a short is not ruled out"
    risky = [
        Withheld(t.id, t.title, reason)
        for t, p in zip(bench.model.compiled.tests, over, strict=True)
        if p > HAZARD_SHARE
    ]
    return (*bench.model.withheld, *risky)


def _causes(bench: Bench, belief: Posterior, findings: Sequence[Finding]) -> tuple[CauseShare, ...]:
    model = bench.model
    reported = {f.symptom for f in findings if isinstance(f, SymptomFinding) and f.present}
    charts = [chart for chart in model.schematic.charts if chart.symptom in reported]
    blamed = frozenset(part for chart in charts for part in chart.blamed)
    probability = model.worlds.with_cause(belief.weights)
    repair = {cause: plan.id for plan in reversed(bench.ground.plans) for cause in plan.restores}
    shares = [
        CauseShare(
            cause.part,
            cause.mode.id,
            float(probability[i]),
            float(belief.low[i]),
            float(belief.high[i]),
            repair.get(cause.id),
            (cause.part in blamed) if charts else None,
            model.sections[cause.part],
        )
        for i, cause in enumerate(model.wiring.causes)
    ]
    return tuple(sorted(shares, key=lambda s: (-s.probability, s.part, s.mode)))


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
        )
        for index in valued.order
        if index < len(bench.ground.plans)
        for plan in (bench.ground.plans[index],)
    )


def _saving(worth: float, costs: Costs) -> str:
    """Say a worth as a person would, in working time where labour has a price."""
    if not costs.labour_per_hour:
        return f"saves about {worth:.0f} {costs.currency} on average"
    minutes = worth / costs.labour_per_hour * 60.0
    return f"saves about {minutes:.0f} min of work on average" if minutes >= 1.0 else "saves a little work on average"


def _why_test(bench: Bench, valued: Valued) -> str:
    if valued.waits is None:
        return _saving(valued.now - valued.after, bench.costs)
    repair = bench.ground.plans[valued.waits].title
    return f"it proves what is not proved yet before the next repair: {repair}"


def _next(bench: Bench, belief: Posterior, valued: Valued) -> NextStep:
    """The cheapest next step: a test if it saves anything, else a repair, explaining, or handing over."""
    best = valued.best
    if best.kind == "test":
        return NextStep("test", bench.model.compiled.tests[best.index].id, _why_test(bench, valued))
    if best.kind == "hand_over":
        if belief.weights[UNLISTED] >= 0.5:
            return NextStep("unlisted", None, "no fault of this model fits: recheck the readings and the cavities")
        return NextStep("hand_over", None, "further work costs more than handing over to a specialist")
    if best.index < len(bench.ground.plans):
        return NextStep("repair", bench.ground.plans[best.index].id, "testing further costs more than it saves")
    if belief.weights[AS_DESIGNED] > belief.weights[NONE]:
        return NextStep("as_designed", None, "what was found is how the vehicle is meant to behave")
    return NextStep("no_fault", None, "nothing is wrong now: look for when and how the complaint comes back")
