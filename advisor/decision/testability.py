"""How well a model's tests find its faults: which are seen, which are told apart, what a further probe point would do.

Fault detection and isolation as shares of failure rate, in the sense of IEEE Std 1522 (testability and diagnosability
characteristics and metrics; from memory): a fault is detected if some test tells it from the sound vehicle, and
isolated to a group of the replaceable items whose faults no test tells from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from advisor.decision.bench import groundwork
from advisor.decision.repairs import RepairPlan
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.hypotheses import singles
from advisor.knowledge.model import Model
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.readings import meter_volts
from advisor.network.worlds import NONE, SPECIALS, Bools, Floats, Ints

TOLD = 0.8
"""Two faults are told apart by a test whose one result says which it is, nine times in ten: a total variation of .8."""
_APART = 2.0 * NormalDist().inv_cdf((1.0 + TOLD) / 2.0)
"""Distance of two readings, in spreads, at which normal errors overlap that little."""
SHOWS = 0.5
"""P(symptom) from which on a fault counts as one that somebody would notice."""


@dataclass(frozen=True)
class Group:
    """Repairs whose faults no test tells apart.

    Attributes:
        repairs: Their titles, the one with most of the failure rate first.
        causes: Causes in it, most of the failure rate first.
        share: Share of the failure rate of faults with just this group.
    """

    repairs: tuple[str, ...]
    causes: tuple[str, ...]
    share: float


@dataclass(frozen=True)
class Unseen:
    """A cause that no test sees in some of its severities: its share of the failure rate, and symptoms that show it."""

    cause: str
    share: float
    symptoms: tuple[str, ...]


@dataclass(frozen=True)
class ExtraProbe:
    """A place where no test measures yet, and the share of the largest group's pairs of faults that it would tell."""

    node: str
    condition: str
    share: float


@dataclass(frozen=True)
class Testability:
    """What the tests of a model can do, over all single faults of a usual vehicle.

    Attributes:
        detected: Share of the failure rate that some test tells from a sound vehicle.
        isolated: Of what is detected, the share in groups of at most one, two, three repairs.
        tests: Number of tests, as few as a greedy choice finds, that tell apart all that can be told.
        minutes: What they take, places opened and closed once [min].
        undetected: Causes that no test sees.
        groups: Groups of three repairs and more, largest share first.
        extra: The probe point that would split the first of them best, None where none would.
    """

    __test__ = False  # not a pytest class

    detected: float
    isolated: tuple[float, float, float]
    tests: int
    minutes: float
    undetected: tuple[Unseen, ...]
    groups: tuple[Group, ...]
    extra: ExtraProbe | None


def testability(model: Model) -> Testability:
    """Grade a model's tests by every single fault in every severity."""
    rows = np.array([NONE, *range(SPECIALS, SPECIALS + len(model.worlds.severity_cause))])
    weights = model.prior(Vehicle()).weights[rows]
    weights = np.append(0.0, weights[1:] / weights[1:].sum())
    each = [_told(model, number, rows) for number in range(len(model.compiled.tests))]
    told = np.any(each, axis=0) if each else np.zeros((len(rows), len(rows)), dtype=bool)
    seen = told[0]
    repair = _repair_of(model, rows)
    alike = [np.unique(repair[~told[i] & seen]) for i in range(len(rows))]
    size = np.array([len(group) for group in alike])
    found = weights * seen
    total = max(float(found.sum()), np.finfo(float).tiny)
    one, two, three = (float(found[size <= most].sum()) / total for most in (1, 2, 3))
    groups = _groups(model, rows, found, repair, alike)
    needed = _needed(each, weights, repair, model)
    return Testability(
        detected=float(found.sum()),
        isolated=(one, two, three),
        tests=len(needed),
        minutes=_minutes(model, needed),
        undetected=_unseen(model, rows, weights, seen),
        groups=groups,
        extra=_extra(model, rows, found, repair, told, alike, size) if groups else None,
    )


def _told(model: Model, number: int, rows: Ints) -> Bools:
    """Which faults one test tells from which, by its outcome or by its reading, shape (rows, rows)."""
    test = model.compiled.tests[number]
    ends = np.cumsum([0, *(len(outcomes) for outcomes in model.worlds.outcomes)])
    block = model.worlds.likelihood[rows, ends[number] : ends[number + 1]]
    apart: Bools = sum((np.abs(column[:, None] - column) for column in block.T), np.zeros((1, 1))) >= 2.0 * TOLD
    if test.unit:
        value, spread = model.compiled.value[rows, number], model.compiled.spread[rows, number]
        steady = model.compiled.jumps[rows, number] <= 1.0 - TOLD
        apart |= _by_reading(value, spread) & steady[:, None] & steady
    return apart


def _by_reading(value: Floats, spread: Floats) -> Bools:
    pooled = np.sqrt((spread[:, None] ** 2 + spread**2) / 2.0)
    return np.abs(value[:, None] - value) >= _APART * np.maximum(pooled, np.finfo(float).tiny)


def _repair_of(model: Model, rows: Ints) -> Ints:
    """The first repair that cures the fault of each row, -1 for none, shape (rows,)."""
    cures = groundwork(model).restores.cures
    first = np.where(cures.any(axis=0), cures.argmax(axis=0), -1)
    return np.where(model.compiled.members[rows, 0] >= 0, first[model.compiled.members[rows, 0]], -1)


def _groups(model: Model, rows: Ints, found: Floats, repair: Ints, alike: Sequence[Ints]) -> tuple[Group, ...]:
    """Groups of three repairs and more."""
    plans, causes = groundwork(model).plans, np.array([*model.compiled.causes, ""])
    by_repair = np.bincount(repair + 1, found, len(plans) + 1)[1:]
    named: dict[tuple[int, ...], list[int]] = {}
    for i, repairs in enumerate(alike):
        if len(repairs) > 2 and found[i] > 0.0:
            named.setdefault(tuple(repairs.tolist()), []).append(i)
    made = []
    for group, members in named.items():
        heaviest = sorted(members, key=lambda i: -found[i])
        titles = tuple(_title(plans, r) for r in sorted(group, key=lambda r: -by_repair[r]))
        inside = dict.fromkeys(str(causes[model.compiled.members[rows[i], 0]]) for i in heaviest)
        made.append(Group(titles, tuple(inside), float(found[members].sum())))
    return tuple(sorted(made, key=lambda group: -group.share))


def _title(plans: Sequence[RepairPlan], number: int) -> str:
    return plans[number].title if number >= 0 else "nothing repairs it"


def _unseen(model: Model, rows: Ints, weights: Floats, seen: Bools) -> tuple[Unseen, ...]:
    """Causes that no test sees in some severity, with the symptoms that these severities show."""
    found: dict[str, list[int]] = {}
    for i in np.flatnonzero(~seen & (weights > 0.0)):
        found.setdefault(model.compiled.causes[model.compiled.members[rows[i], 0]], []).append(int(i))
    shows: Bools = model.compiled.presence[rows] > SHOWS
    made = [
        Unseen(
            cause,
            float(weights[members].sum()),
            tuple(model.worlds.symptoms[int(i)] for i in np.flatnonzero(shows[members].any(axis=0))),
        )
        for cause, members in found.items()
    ]
    return tuple(sorted(made, key=lambda unseen: -unseen.share))


def _needed(each: Sequence[Bools], weights: Floats, repair: Ints, model: Model) -> list[int]:
    """Tests that together tell apart all that can be told of different repairs: again and again the most per minute."""
    differ = np.triu(repair[:, None] != repair)
    pairs = np.outer(weights, weights)
    pairs[0] = weights  # each fault against the sound vehicle
    left, chosen = pairs * differ * (np.any(each, axis=0) if each else False), []
    minutes = np.array([max(test.minutes, 1.0) for test in model.compiled.tests])
    gain = np.array([float(left[told].sum()) for told in each]) / minutes
    while left.any():
        best = int(gain.argmax())
        gain[best] = float(left[each[best]].sum()) / minutes[best]
        # What the others gain can only have fallen since it was last counted.
        if gain[best] >= gain.max():
            left = np.where(each[best], 0.0, left)
            chosen.append(best)
            gain[best] = 0.0
    return chosen


def _minutes(model: Model, chosen: Sequence[int]) -> float:
    tests, places = [model.compiled.tests[i] for i in chosen], model.schematic.places
    opened: set[str] = set()
    for test in tests:
        here: str | None = test.place if test.opens else None
        while here is not None:
            opened.add(here)
            here = places[here].inside
    access = sum(places[place].open_minutes + places[place].close_minutes for place in opened)
    return float(sum(test.minutes for test in tests) + access)


def _extra(  # noqa: PLR0913, PLR0917  what the grade has found so far
    model: Model, rows: Ints, found: Floats, repair: Ints, told: Bools, alike: Sequence[Ints], size: Ints
) -> ExtraProbe | None:
    """The node that no test touches at which a voltage would tell most of the largest group apart."""
    heavy = np.where(size > 2, found, 0.0)
    largest = alike[int(heavy.argmax())]
    inside = np.flatnonzero(np.isin(repair, largest) & (found > 0.0))
    pairs = (
        np.outer(found[inside], found[inside]) * (repair[inside][:, None] != repair[inside]) * ~told[inside][:, inside]
    )
    touched = {n for t in model.compiled.tests for n in (t.observed.red, t.observed.black)}
    reference = model.schematic.reference
    nodes = [
        node
        for node in model.wiring.netlist.nodes
        if node not in touched and node != reference and node.split("/")[0] not in model.schematic.parts
    ]
    if not nodes or not pairs.any():
        return None
    best = None
    for normal, volts, ohms in _everywhere(model, rows[inside], nodes):
        for column, node in enumerate(nodes):
            value, spread = meter_volts(
                volts[:, column], ohms[:, column], model.schematic.library.instruments["voltmeter"], model.supply_volts
            )
            share = float(pairs[_by_reading(value, spread)].sum() / pairs.sum())
            if share > 0.0 and (best is None or share > best.share):
                best = ExtraProbe(node, normal, share)
    return best


def _everywhere(model: Model, rows: Ints, nodes: Sequence[str]) -> list[tuple[str, Floats, Floats]]:
    """Volts and output resistances at some nodes under each normal condition, shape (rows, nodes) each."""
    run = Predictor(model.wiring)
    every, reference = singles(model.wiring.causes), model.schematic.reference
    sets = replace(
        every,
        members=every.members[rows],
        severities=every.severities[rows],
        changes=tuple(every.changes[row] for row in rows),
        beside=np.zeros((len(rows), every.beside.shape[1]), dtype=np.intp),
    )
    latched = run.latched(sets)
    result = []
    for normal in model.schematic.normal.values():
        solution = run.solved(Setup(model.wiring.usual(normal.when)), sets, latched, [(n, reference) for n in nodes])
        pairs = [solution.between(node, reference) for node in nodes]
        volts, ohms = (np.stack(part, axis=1) for part in zip(*pairs, strict=True))
        result.append((normal.text, volts, ohms))
    return result
