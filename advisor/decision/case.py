"""A model, a belief and its costs as a problem to be decided several steps ahead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from advisor.decision.advice import Costs
from advisor.decision.bench import EXPLAIN_MINUTES, Bench
from advisor.decision.history import BAD_REPAIR
from advisor.decision.outlook import Outlook
from advisor.decision.problem import NOWHERE, Access, Problem, Repairs, Stage, Tests
from advisor.decision.working import ACCESS, proving_minutes, timed_test
from advisor.knowledge.catalogue import Setup, Test
from advisor.knowledge.documents import Schematic
from advisor.knowledge.model import Model
from advisor.knowledge.places import path
from advisor.network.worlds import NONE, SPECIALS, Floats, Worlds


@dataclass(frozen=True)
class Case:
    """A case made ready for looking ahead.

    Attributes:
        outlook: Of its problem.
        stage: What is open and answered.
    """

    outlook: Outlook
    stage: Stage


def case_of(bench: Bench, reported: tuple[str, ...], left: tuple[int, ...]) -> Case:
    """Make a case of a bench; what it is looked at by is kept for the next call.

    Args:
        bench: Model, open places, costs.
        reported: Symptoms that the customer reports.
        left: Indices of the tests that may be proposed.
    """
    places, tree = list(bench.model.schematic.places), bench.model.schematic.places
    opened = frozenset(places.index(p) for place in bench.opened for p in path(tree, place))
    done = frozenset(range(len(bench.model.compiled.tests))) - frozenset(left)
    return Case(_outlook(bench, reported), Stage(opened, done))


Key = tuple[Worlds, Costs, tuple[str, ...]]
_KEPT: WeakKeyDictionary[Model, list[tuple[Key, Outlook]]] = WeakKeyDictionary()
"""The last few outlooks of each model, each with what it was made for; the first is the newest."""
_KEEP = 2


def _outlook(bench: Bench, reported: tuple[str, ...]) -> Outlook:
    kept = _KEPT.setdefault(bench.model, [])
    key = (bench.worlds, bench.costs, reported)
    found = next((o for k, o in kept if _same(k, key)), None)
    if found is None:
        found = Outlook.of(_problem(bench, reported))
        kept[:] = [(key, found), *kept[: _KEEP - 1]]
    return found


def _same(one: Key, other: Key) -> bool:
    """Whether two keys are of the very same worlds, and of equal costs and complaints."""
    return one[0] is other[0] and one[1:] == other[1:]


def ended(bench: Bench, reported: Sequence[str]) -> Floats:
    """What it costs that a case ends unnoticed in each hypothesis [money], shape (H,)."""
    return shows(bench, reported) * bench.costs.hand_over


def _problem(bench: Bench, reported: tuple[str, ...]) -> Problem:
    places, showing = list(bench.model.schematic.places), shows(bench, reported)
    return Problem(
        belief=_somewhere(len(bench.worlds.members)),
        passes=1.0 - showing,
        ending=ended(bench, reported),
        fixed=showing < 0.5,
        tests=_tests(bench, places),
        repairs=_repairs(bench, places),
        access=_access(bench.model.schematic, bench),
        hand_over=bench.costs.hand_over,
        explain=len(bench.ground.plans),
        looks=looks(bench.model, reported),
        twins=frozenset(number for number, test in enumerate(bench.model.compiled.tests) if test.for_sides),
    )


def looks(model: Model, reported: Sequence[str]) -> frozenset[int]:
    """Tests that look at what is reported, where and when it is, and would look otherwise if nothing were wrong."""
    glances = [glance for symptom in reported for glance in model.schematic.symptoms[symptom].glances]
    setups = [(Setup(model.wiring.usual(glance.when)), glance.sees) for glance in glances]
    return frozenset(
        number
        for number, test in enumerate(model.compiled.tests)
        for setup, sees in setups
        if test.observed.load in sees and test.setup == setup and _when_sound(test) != sees[test.observed.load]
    )


def _when_sound(test: Test) -> str | None:
    return next((outcome.id for outcome in test.outcomes if outcome.low <= test.normal_value < outcome.high), None)


def _somewhere(count: int) -> Floats:
    """A belief that stands for any: looking ahead is given its own."""
    anywhere = np.zeros(count)
    anywhere[NONE] = 1.0
    return anywhere


def shows(bench: Bench, reported: Sequence[str]) -> Floats:
    """P(the complaint's own test fails | hypothesis), shape (H,).

    A fault that does not show what was reported is not what the customer came for: a case that ends in it costs
    nothing more.
    """
    worlds = bench.worlds
    rows = [worlds.symptoms.index(symptom) for symptom in reported]
    most = worlds.presence[:, rows].max(axis=1) if rows else np.ones(len(worlds.members))
    found: Floats = np.round(most)  # what shows half of the time is as good as shown; two values keep classes few
    found[:SPECIALS] = 1.0
    found[NONE] = 0.0
    return found


def _tests(bench: Bench, places: Sequence[str]) -> Tests:
    tests = bench.model.compiled.tests
    minutes = np.array([timed_test(bench.model, test) for test in tests])
    return Tests(
        bench.worlds.likelihood,
        tuple(len(test.outcomes) for test in tests),
        bench.costs.labour(1.0) * minutes,
        minutes,
        np.array([places.index(test.place) if test.opens else NOWHERE for test in tests], dtype=np.intp),
    )


def _repairs(bench: Bench, places: Sequence[str]) -> Repairs:
    """All repairs, each proved, and explaining last."""
    plans, after = bench.ground.plans, bench.ground.after
    own = np.arange(after.shape[1])
    proving = proving_minutes(bench.model)
    minutes = np.array([*(plan.minutes + proving for plan in plans), EXPLAIN_MINUTES])
    parts = np.array([*(plan.price for plan in plans), 0.0])
    success = np.where(after == own, 1.0, 1.0 - BAD_REPAIR)
    success[-1] = 1.0
    return Repairs(
        after,
        success,
        np.tile(own, (len(after), 1)),
        bench.costs.labour(1.0) * minutes + parts,
        minutes,
        np.array([*(places.index(plan.place) for plan in plans), NOWHERE], dtype=np.intp),
    )


def _access(schematic: Schematic, bench: Bench) -> Access:
    places = list(schematic.places)
    minutes = np.array([p.open_minutes + p.close_minutes for p in schematic.places.values()])
    minutes *= bench.model.learned.minutes.get(ACCESS, 1.0)
    parents = [places.index(p.inside) if p.inside else NOWHERE for p in schematic.places.values()]
    return Access(np.array(parents, dtype=np.intp), bench.costs.labour(1.0) * minutes, minutes)
