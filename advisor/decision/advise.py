"""From findings to advice: ranked causes, worth of every next test, the next step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from advisor.decision.advice import Advice, CauseShare, Costs, NextStep, RepairShare, TestWorth
from advisor.decision.bench import Bench
from advisor.decision.expected import Orders
from advisor.errors import ImpossibleFindingsError, RequestProblem
from advisor.knowledge.catalogue import Withheld
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import Posterior, posterior
from advisor.network.findings import DeclinedFinding, Finding, OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED

RECHECK_ABOVE = 0.5
"""Expected number of slips among the findings from which a recheck is asked for: measured on a prototype circuit."""
RECHECK = "but one finding fits badly: check its cavity, the side that the plug is seen from, and the value again"
RECHECK_BLACK = (
    "but the voltages fit better if the black lead has no good ground: put it on the battery's negative post"
)
HAZARD_SHARE = 0.01
"""A jumper is withheld while hypotheses that would overload its fuse hold more than this: judgement, no source."""


def decide(  # noqa: PLR0913  the contract's own signature
    model: Model,
    findings: Sequence[Finding],
    *,
    years: float = Vehicle.years,
    hours: float = Vehicle.hours,
    opened: frozenset[str] = frozenset(),
    costs: Costs = Costs(),  # noqa: B008  frozen, so one default serves all calls
) -> Advice:
    """Rank the causes and value every next step for one set of findings.

    Args:
        model: The circuit.
        findings: What was reported and measured.
        years: The vehicle's age [years].
        hours: Its engine hours [h].
        opened: Places that stand open.
        costs: Labour rate and hand-over price.

    Raises:
        RequestError: a finding names something that this circuit does not have.
        ImpossibleFindingsError: the findings have probability zero.
    """
    root = model.prior(Vehicle(years, hours))
    belief = posterior(model.worlds, root, model.evidence(findings, root), model.axis.prior)
    if belief is None:
        raise ImpossibleFindingsError(
            [RequestProblem(f"#/findings/{i}", "these findings cannot all be true") for i in range(len(findings))]
        )
    bench = Bench(model, opened, costs, model.worlds_at(belief.states))
    now = bench.expected(belief.weights, opened)
    worths = _worths(bench, belief, float(now.cost[0]), _answered(findings))
    step = _next(bench, belief, now, worths)
    supply = model.supply(belief.states)
    if supply is not None and supply.black_lead_astray >= RECHECK_ABOVE:
        step = replace(step, reason=f"{step.reason}; {RECHECK_BLACK}")
    elif belief.slips >= RECHECK_ABOVE:
        step = replace(step, reason=f"{step.reason}; {RECHECK}")
    after = float(now.cost[0]) - (worths[0].worth if step.kind == "test" else 0.0)
    return Advice(
        evidence_probability=belief.evidence / float(root.weights.sum()),
        omitted_mass=root.omitted,
        conflict_decibans=belief.conflict_decibans,
        no_fault=float(belief.weights[NONE]),
        as_designed=float(belief.weights[AS_DESIGNED]),
        unlisted=float(belief.weights[UNLISTED]),
        causes=_causes(bench, belief, findings),
        tests=tuple(worths),
        withheld=_withheld(bench, belief),
        repairs=_repairs(bench, belief, now),
        next=step,
        expected_cost_now=float(now.cost[0]),
        expected_cost_after_next=after,
        supply=supply,
        expected_slips=belief.slips,
    )


def _answered(findings: Sequence[Finding]) -> frozenset[str]:
    return frozenset(f.test for f in findings if isinstance(f, OutcomeFinding | ReadingFinding | DeclinedFinding))


def _withheld(bench: Bench, belief: Posterior) -> tuple[Withheld, ...]:
    over = bench.overload(belief.weights)
    reason = "the jumper could draw more than its fuse carries, here or one cavity off, while a short is not ruled out"
    risky = [
        Withheld(t.id, t.title, reason)
        for t, p in zip(bench.model.compiled.tests, over, strict=True)
        if p > HAZARD_SHARE
    ]
    return (*bench.model.withheld, *risky)


def _worths(bench: Bench, belief: Posterior, cost_now: float, answered: frozenset[str]) -> list[TestWorth]:
    """Worth of every unanswered safe test, highest first, then by id.

    worth = ECR(e) - cost - sum over outcomes of P(o|e) ECR(e, o), where the repairs after the test find
    open what the test opened.
    """
    worlds, over = bench.worlds, bench.overload(belief.weights)
    compiled = bench.model.compiled.tests
    chosen = [i for i, test in enumerate(compiled) if test.id not in answered and over[i] <= HAZARD_SHARE]
    if not chosen:
        return []
    columns = np.concatenate([np.arange(worlds.columns[i].start, worlds.columns[i].stop) for i in chosen])
    masses = np.take(bench.ground.groups.sums(worlds.likelihood, belief.weights), columns, axis=1)
    tests = [compiled[i] for i in chosen]
    after, probability = bench.expected_of(masses, bench.prices_after(tests)).cost, masses.sum(axis=0)
    result, start = [], 0
    for test in tests:
        stop, minutes = start + len(test.outcomes), bench.test_minutes(test)
        cost = bench.costs.labour(minutes)
        worth = cost_now - cost - float(after[start:stop].sum())
        result.append(TestWorth(test.id, minutes, cost, worth, tuple(probability[start:stop].tolist())))
        start = stop
    return sorted(result, key=lambda w: (-w.worth, w.test))


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


def _repairs(bench: Bench, belief: Posterior, now: Orders) -> tuple[RepairShare, ...]:
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
        for index in now.order[0]
        if index < len(bench.ground.plans)
        for plan in (bench.ground.plans[index],)
    )


def _saving(worth: float, costs: Costs) -> str:
    """Say a worth as a person would, in working time where labour has a price."""
    if not costs.labour_per_hour:
        return f"saves about {worth:.0f} {costs.currency} on average"
    minutes = worth / costs.labour_per_hour * 60.0
    return f"saves about {minutes:.0f} min of work on average" if minutes >= 1.0 else "saves a little work on average"


def _next(bench: Bench, belief: Posterior, now: Orders, worths: Sequence[TestWorth]) -> NextStep:
    """The cheapest next step: the best test if it saves anything, else the first repair, else hand over."""
    if worths and worths[0].worth > 0.0:
        return NextStep("test", worths[0].test, _saving(worths[0].worth, bench.costs))
    if now.stop[0] == 0:
        if belief.weights[UNLISTED] >= 0.5:
            return NextStep("unlisted", None, "no fault of this model fits: recheck the readings and the cavities")
        return NextStep("hand_over", None, "further work costs more than handing over to a specialist")
    first = int(now.order[0, 0])
    if first < len(bench.ground.plans):
        return NextStep("repair", bench.ground.plans[first].id, "testing further costs more than it saves")
    if belief.weights[AS_DESIGNED] > belief.weights[NONE]:
        return NextStep("as_designed", None, "what was found is how the vehicle is meant to behave")
    return NextStep("no_fault", None, "nothing is wrong now: look for when and how the complaint comes back")
