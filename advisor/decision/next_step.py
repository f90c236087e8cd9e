"""The next step, and why in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from advisor.decision.advice import Asked, Costs, NextStep
from advisor.decision.bearings import suspected
from advisor.decision.bench import EXPLAIN_MINUTES, Bench
from advisor.decision.case import case_of, ended
from advisor.decision.choosing import LIKELY
from advisor.decision.estimate import Allowed, estimate
from advisor.decision.outlook import HAND_OVER, Step
from advisor.decision.provoking import provoke
from advisor.decision.valued import Valued
from advisor.network.engine import Posterior
from advisor.network.findings import Finding, RepairFinding
from advisor.network.worlds import AS_DESIGNED, NONE, UNLISTED

RECHECK_ABOVE = 0.5
"""Expected number of slips among the findings from which a recheck is asked for: measured on a prototype circuit."""
RECHECK = "but one finding fits badly: check its cavity, the side that the plug is seen from, and the value again"
RECHECK_BLACK = (
    "but the voltages fit better if the black lead has no good ground: put it on the battery's negative post"
)
MIRRORED_ABOVE = 0.3
"""Probability of a connector read from the other side from which that is said: measured, with .02 false alarms."""
RECHECK_SIDE = "but your readings at {} fit the mirrored side better: look again from which side it is drawn"

PROVED = (
    "the complaint is gone: see it work once more under every condition that it came with, put back what was "
    "unplugged, jumped or pulled, and close the case"
)
SOUND = "nothing is wrong now: look for when and how the complaint comes back"
UNSHOWN = (
    "what is left would not show this complaint now: look with the customer for when it does; whatever else was found "
    "is listed below"
)
FOR_WANT_OF_BETTER = "it costs least, and too much speaks for a fault yet to say that nothing is wrong"
HIDES_ABOVE = 0.4
"""Probability of a fault that has not shown in any test from which it is to be provoked: judgement, no source."""


def next_step(
    bench: Bench, belief: Posterior, valued: Valued, findings: Sequence[Finding], reported: Sequence[str]
) -> NextStep:
    """The cheapest next step, to close where a repair has proved itself, with what to doubt beside."""
    proved = _proved(findings)
    step = _next(bench, belief, valued)
    if proved and ended(bench, reported) @ belief.showing <= valued.now:
        step = NextStep("no_fault", None, PROVED)
    said = [step.reason]
    supply = bench.model.supply(belief.states)
    mirrored = suspected(belief, MIRRORED_ABOVE)
    if mirrored is not None:
        said.append(RECHECK_SIDE.format(mirrored))
    elif supply is not None and supply.black_lead_astray >= RECHECK_ABOVE:
        said.append(RECHECK_BLACK)
    elif belief.slips >= RECHECK_ABOVE:
        said.append(RECHECK)
    if belief.hiding >= HIDES_ABOVE and not proved:
        said.append(provoke(bench.model, belief))
    return replace(step, reason="; ".join(said))


def _proved(findings: Sequence[Finding]) -> bool:
    """Whether the complaint was gone after the last repair."""
    done = [f for f in findings if isinstance(f, RepairFinding)]
    return bool(done) and done[-1].result == "gone"


def _saving(worth: float, costs: Costs) -> str:
    """Say a worth as a person would, in working time where labour has a price."""
    if not costs.labour_per_hour:
        return f"saves about {worth:.0f} {costs.currency} on average"
    minutes = worth / costs.labour_per_hour * 60.0
    return f"saves about {minutes:.0f} min of work on average" if minutes >= 1.0 else "saves a little work on average"


def _why_test(bench: Bench, valued: Valued) -> str:
    if valued.waits is None:
        saved = valued.now - valued.after
        return _saving(saved, bench.costs) if saved > 0.0 else FOR_WANT_OF_BETTER
    repair = bench.ground.plans[valued.waits].title
    return f"it proves what is not proved yet before the next repair: {repair}"


def _next(bench: Bench, belief: Posterior, valued: Valued) -> NextStep:
    """The cheapest next step: a test if it saves anything, else a repair, explaining, or handing over."""
    best = valued.best
    if best.kind == "test":
        return NextStep("test", bench.model.compiled.tests[best.index].id, _why_test(bench, valued))
    if best.kind == "hand_over":
        if belief.showing[UNLISTED] >= 0.5:
            return NextStep("unlisted", None, "no fault of this model fits: recheck the readings and the cavities")
        return NextStep("hand_over", None, "further work costs more than handing over to a specialist")
    if best.index < len(bench.ground.plans):
        return NextStep("repair", bench.ground.plans[best.index].id, "testing further costs more than it saves")
    if belief.showing[AS_DESIGNED] > belief.showing[NONE]:
        return NextStep("as_designed", None, "what was found is how the vehicle is meant to behave")
    return NextStep("no_fault", None, UNSHOWN if belief.showing[NONE] < LIKELY else SOUND)


def asked_for(  # noqa: PLR0913, PLR0917  all that a step is chosen by
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
    found = estimate(case.outlook, case.stage, belief.showing, valued.best, valued.after)
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
