"""Minutes of work: the library's, times what a release has learned of the kind of work."""

from __future__ import annotations

from dataclasses import replace

from advisor.decision.access import access_minutes
from advisor.decision.repairs import VERIFY_MINUTES, RepairPlan, repair_plans
from advisor.knowledge.catalogue import Test
from advisor.knowledge.model import Model
from advisor.knowledge.wiring import Wiring

ACCESS, PROVING = "access", "proving"


def work_of_test(test: Test) -> str:
    """Kind of work that a test is."""
    return f"test: {test.instrument}"


def work_of_repair(wiring: Wiring, plan: RepairPlan) -> str:
    """Kind of work that a repair is: the part type that it is mostly about."""
    parts = [wiring.items[cause.rpartition("/")[0]].type.id for cause in sorted(plan.restores)]
    return f"repair: {max(dict.fromkeys(parts), key=parts.count)}"


def timed_test(model: Model, test: Test) -> float:
    """Minutes of a test, access left out."""
    return test.minutes * model.learned.minutes.get(work_of_test(test), 1.0)


def timed_plans(model: Model) -> tuple[RepairPlan, ...]:
    """All repairs of a circuit with their minutes."""
    plans, wiring = repair_plans(model.wiring), model.wiring
    times = [model.learned.minutes.get(work_of_repair(wiring, plan), 1.0) for plan in plans]
    return tuple(replace(plan, minutes=plan.minutes * each) for plan, each in zip(plans, times, strict=True))


def proving_minutes(model: Model) -> float:
    """Minutes of proving a repair."""
    return VERIFY_MINUTES * model.learned.minutes.get(PROVING, 1.0)


def reach_minutes(model: Model, place: str, opened: frozenset[str]) -> float:
    """Minutes to open what is still closed on the way to a place, and to close it again."""
    return access_minutes(model.schematic.places, place, opened) * model.learned.minutes.get(ACCESS, 1.0)
