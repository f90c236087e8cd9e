"""From findings to advice: ranked causes, worth of every next test, the next step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from advisor.decision.access import access_minutes, path
from advisor.decision.advice import Advice, CauseShare, Costs, NextStep, RepairShare, TestWorth
from advisor.decision.expected import Orders, Restores, expected_costs
from advisor.decision.repairs import VERIFY_MINUTES, RepairPlan, repair_plans
from advisor.errors import ImpossibleFindingsError, RequestProblem
from advisor.knowledge.catalogue import Test, Withheld
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import Posterior, posterior
from advisor.network.findings import DeclinedFinding, Finding, OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED

Floats = NDArray[np.float64]

HAZARD_SHARE = 0.01
"""A jumper is withheld while hypotheses that would overload its fuse hold more than this: judgement, no source."""
EXPLAIN_MINUTES = 10.0
"""Function sweep and explaining the normal behaviour [min]: common practice, no source."""


@dataclass(frozen=True)
class Bench:
    """What the decision needs besides the findings: repairs, prices, open places."""

    model: Model
    opened: frozenset[str]
    costs: Costs

    @cached_property
    def plans(self) -> tuple[RepairPlan, ...]:
        """All repairs of the circuit."""
        return repair_plans(self.model.wiring)

    @cached_property
    def restores(self) -> Restores:
        """Which repair cures which cause."""
        cures = [[cause in plan.restores for cause in self.model.compiled.causes] for plan in self.plans]
        return Restores(self.model.compiled.members, np.array(cures, dtype=bool))

    @cached_property
    def touches(self) -> Floats:
        """Which repair touches which hypothesis, shape (H, R + 1)."""
        return self.restores.touches()

    def repair_minutes(self, plan: RepairPlan, opened: frozenset[str]) -> float:
        """Minutes of a repair: access, doing, proving."""
        return access_minutes(self.model.schematic.places, plan.place, opened) + plan.minutes + VERIFY_MINUTES

    def prices(self, opened: frozenset[str]) -> Floats:
        """Cost of every repair, explaining last [money], shape (R + 1,)."""
        each = [self.costs.labour(self.repair_minutes(plan, opened)) + plan.price for plan in self.plans]
        return np.array([*each, self.costs.labour(EXPLAIN_MINUTES)])

    def expected(self, weights: Floats, opened: frozenset[str]) -> Orders:
        """Expected cost of repair for each column of weights, shape (Q, H)."""
        return expected_costs(self.restores, self.touches, weights, self.prices(opened), self.costs.hand_over)

    def test_minutes(self, test: Test) -> float:
        """Minutes of a test now: access and doing; a look needs nothing opened."""
        looking = test.instrument == "eye"
        reach = 0.0 if looking else access_minutes(self.model.schematic.places, test.place, self.opened)
        return reach + test.minutes

    def opened_by(self, test: Test) -> frozenset[str]:
        """Places that stand open after a test."""
        if test.instrument == "eye":
            return self.opened
        return self.opened | frozenset(path(self.model.schematic.places, test.place))


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
    belief = posterior(model.worlds, root, model.evidence(findings, root))
    if belief is None:
        raise ImpossibleFindingsError(
            [RequestProblem(f"#/findings/{i}", "these findings cannot all be true") for i in range(len(findings))]
        )
    bench = Bench(model.at_supply_of(findings), opened, costs)
    now = bench.expected(belief.weights[None, :], opened)
    worths = _worths(bench, belief, float(now.cost[0]), _answered(findings))
    step = _next(bench, belief, now, worths)
    after = float(now.cost[0]) - (worths[0].worth if step.kind == "test" else 0.0)
    return Advice(
        evidence_probability=belief.evidence,
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
    )


def _answered(findings: Sequence[Finding]) -> frozenset[str]:
    return frozenset(f.test for f in findings if isinstance(f, OutcomeFinding | ReadingFinding | DeclinedFinding))


def _overload(bench: Bench, belief: Posterior) -> Floats:
    """Probability that a jumper test would draw more than its fuse carries, shape (T,)."""
    rating = bench.model.schematic.library.instruments["jumper"].fuse_amps or 0.0
    over: Floats = belief.weights @ (bench.model.compiled.jumper_amps > rating)
    return over


def _withheld(bench: Bench, belief: Posterior) -> tuple[Withheld, ...]:
    over = _overload(bench, belief)
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
    worlds, over = bench.model.worlds, _overload(bench, belief)
    groups: dict[frozenset[str], list[int]] = {}
    for index, test in enumerate(bench.model.compiled.tests):
        if test.id not in answered and over[index] <= HAZARD_SHARE:
            groups.setdefault(bench.opened_by(test), []).append(index)
    result = []
    for opened, indices in groups.items():
        columns = np.concatenate([np.arange(worlds.columns[i].start, worlds.columns[i].stop) for i in indices])
        joint = (belief.weights[:, None] * worlds.likelihood[:, columns]).T
        after, probability = bench.expected(np.ascontiguousarray(joint), opened).cost, joint.sum(axis=1)
        start = 0
        for index in indices:
            test = bench.model.compiled.tests[index]
            stop = start + len(test.outcomes)
            minutes = bench.test_minutes(test)
            cost = bench.costs.labour(minutes)
            worth = cost_now - cost - float(after[start:stop].sum())
            result.append(TestWorth(test.id, minutes, cost, worth, tuple(map(float, probability[start:stop]))))
            start = stop
    return sorted(result, key=lambda w: (-w.worth, w.test))


def _causes(bench: Bench, belief: Posterior, findings: Sequence[Finding]) -> tuple[CauseShare, ...]:
    model = bench.model
    reported = {f.symptom for f in findings if isinstance(f, SymptomFinding) and f.present}
    charts = [chart for chart in model.schematic.charts if chart.symptom in reported]
    blamed = frozenset(part for chart in charts for part in chart.blamed)
    probability = belief.weights @ model.worlds.holds
    repair = {cause: plan.id for plan in reversed(bench.plans) for cause in plan.restores}
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
    probability, prices = belief.weights @ bench.touches, bench.prices(bench.opened)
    return tuple(
        RepairShare(
            plan.id,
            plan.title,
            bench.repair_minutes(plan, bench.opened),
            float(prices[index]),
            float(probability[index]),
        )
        for index in now.order[0]
        if index < len(bench.plans)
        for plan in (bench.plans[index],)
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
    if first < len(bench.plans):
        return NextStep("repair", bench.plans[first].id, "testing further costs more than it saves")
    if belief.weights[AS_DESIGNED] > belief.weights[NONE]:
        return NextStep("as_designed", None, "what was found is how the vehicle is meant to behave")
    return NextStep("no_fault", None, "nothing is wrong now: look for when and how the complaint comes back")
