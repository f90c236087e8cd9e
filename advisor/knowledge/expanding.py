"""More fault sets where the bounds ask for them: solved for what was found, and for nothing else.

The bounds of a cause come from sets that nobody has solved.  Where they stand wide apart, the heaviest of these sets
around the leading causes are solved for the reported symptoms and the tests that were done, and join the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.knowledge.compiled import Compiled
from advisor.knowledge.hypotheses import FaultSets, blocks, coarse_rows, sound
from advisor.knowledge.model import Model
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.prevalence import Vehicle, place_events
from advisor.network.engine import Evidence, Posterior, posterior, symptom_unsolved
from advisor.network.events import set_mass
from advisor.network.findings import DeclinedFinding, Finding, SymptomFinding
from advisor.network.priors import Prior, odds
from advisor.network.worlds import NONE, SPECIALS, Floats, Ints, Worlds

WIDE = 0.02
"""Distance of the leading cause's bounds above which more sets are solved."""
LEADING = 5
SETS = 400
"""About how many sets are added: some tens of milliseconds."""


@dataclass(frozen=True)
class Expanded:
    """Hypotheses with what was added behind them.

    Attributes:
        worlds: The old hypotheses, then the new ones; without tests and symptoms.
        root: Their root distribution.
        belief: What the findings leave of them.
    """

    worlds: Worlds
    root: Prior
    belief: Posterior


def width(worlds: Worlds, belief: Posterior) -> float:
    """Distance of the bounds of the leading cause."""
    top = int(worlds.with_cause(belief.weights).argmax())
    return float(belief.high[top] - belief.low[top])


def expanded(
    model: Model, findings: Sequence[Finding], belief: Posterior, vehicle: Vehicle, sets: int = SETS
) -> Expanded | None:
    """Add sets around the leading causes where the leading cause's bounds stand wide apart; None if they do not.

    Added are the heaviest pairs left out that hold one of the leading causes, and triples that hold one of the leading
    pairs, as far as they may show what was reported.  What is reported of sound vehicles stays as it was.

    Args:
        model: The circuit.
        findings: What was reported and measured.
        belief: What these findings leave of the model's hypotheses.
        vehicle: Whose root distribution it was.
        sets: About how many sets are added.

    Raises:
        CircuitError: the circuit cannot be solved.
    """
    found = [f for f in findings if not isinstance(f, DeclinedFinding)]
    chosen = _candidates(model, found, belief, vehicle, sets) if width(model.worlds, belief) > WIDE else []
    if not chosen:
        return None
    more = blocks(model.wiring.causes, chosen)
    worlds = _joined(model, more)
    root = model.prior_of(worlds, vehicle)
    evidence = _evidence(model, found, root, model.evidence(found, model.prior(vehicle)), _solved(model, found, more))
    after = posterior(worlds, root, evidence)
    return None if after is None else Expanded(worlds, root, after)


def _candidates(
    model: Model, found: Sequence[Finding], belief: Posterior, vehicle: Vehicle, sets: int
) -> list[tuple[int, ...]]:
    """Sets of causes to add, the heaviest per hypothesis first."""
    there = {tuple(row[row >= 0].tolist()) for row in np.unique(model.worlds.members, axis=0)}
    pools = [_pairs(model, belief), _triples(model, belief)]
    ranked = []
    for pool in pools:
        new = [chosen for chosen in pool if chosen not in there]
        if new:
            rows = coarse_rows(model.wiring.causes)[np.array(new)].prod(axis=1)
            ranked += list(
                zip((_mass(model, found, np.array(new), vehicle) / rows).tolist(), rows.tolist(), new, strict=True)
            )
    ranked.sort(key=lambda each: -each[0])
    before = np.cumsum([0, *(rows for _, rows, _ in ranked)])[: len(ranked)]
    return [chosen for start, (_, _, chosen) in zip(before, ranked, strict=True) if start < sets]


def _mass(model: Model, found: Sequence[Finding], sets: Ints, vehicle: Vehicle) -> Floats:
    """Prior mass of sets, as far as they may show every reported symptom, but for a common factor, shape (N,)."""
    worlds = model.worlds
    by_cause = np.bincount(worlds.severity_cause, model.prevalence(vehicle), minlength=len(worlds.causes))
    o = odds(by_cause.astype(np.float64), worlds.cause_part)
    mass = set_mass(o, worlds.cause_part, place_events(model.wiring), sets)
    for finding in found:
        if isinstance(finding, SymptomFinding) and finding.present and len(model.compiled.needs):
            index = worlds.symptoms.index(finding.symptom)
            able = model.compiled.needs[index][sets].any(axis=1)
            mass = mass * np.where(able, 1.0, model.compiled.otherwise[index])
    return mass


def _pairs(model: Model, belief: Posterior) -> set[tuple[int, ...]]:
    """Pairs of a leading cause with any cause of another part."""
    leading = np.argsort(-model.worlds.with_cause(belief.weights), kind="stable")[:LEADING].tolist()
    return set(_grown(model, [(cause,) for cause in leading]))


def _triples(model: Model, belief: Posterior) -> set[tuple[int, ...]]:
    """Triples of a leading pair with any cause of a third part."""
    rows = np.flatnonzero(model.worlds.sizes == 2)
    pairs, which = np.unique(model.worlds.members[rows, :2], axis=0, return_inverse=True)
    weight = np.bincount(which.ravel(), belief.weights[rows], minlength=len(pairs))
    return set(_grown(model, [tuple(pair) for pair in pairs[np.argsort(-weight, kind="stable")[:LEADING]].tolist()]))


def _grown(model: Model, sets: Sequence[tuple[int, ...]]) -> Iterator[tuple[int, ...]]:
    """Each set with one more cause, of another part."""
    part = model.worlds.cause_part
    for chosen in sets:
        others = np.flatnonzero(~np.isin(part, part[list(chosen)]))
        yield from (tuple(sorted((*chosen, int(other)))) for other in others)


def _joined(model: Model, more: FaultSets) -> Worlds:
    """The model's hypotheses and more of them, without what they show."""
    count, width = model.worlds.members.shape
    alone = np.arange(count)[:, None].repeat(2 * width, axis=1)
    both = FaultSets(model.worlds.members, model.worlds.severities, ((),) * count, alone).joined(more)
    nothing = np.zeros((len(both.members), 0))
    return replace(
        model.worlds,
        members=both.members,
        severities=both.severities,
        tests=(),
        outcomes=(),
        likelihood=nothing,
        symptoms=(),
        presence=nothing,
    )


@dataclass(frozen=True)
class _Shown:
    """What added sets show: P(symptom) of those reported, and a model of the tests that were done.

    The model has the special hypotheses first, like every model.
    """

    presence: dict[str, Floats]
    tests: Model


def _solved(model: Model, found: Sequence[Finding], more: FaultSets) -> _Shown:
    """Solve added sets for what was found, and for nothing else."""
    reported = {f.symptom for f in found if isinstance(f, SymptomFinding)}
    done = {f.test for f in found if not isinstance(f, SymptomFinding | DeclinedFinding)}
    symptoms = {id: symptom for id, symptom in model.schematic.symptoms.items() if id in reported}
    wiring = replace(model.wiring, schematic=replace(model.schematic, symptoms=symptoms))
    predictor, sets = Predictor(wiring), sound(SPECIALS).joined(more)
    latched = predictor.latched(sets)
    tests = tuple(test for test in model.compiled.tests if test.id in done)
    seen, presence = predictor.predict(tests, sets, latched), predictor.presence(sets, latched)
    nothing = np.zeros((len(sets), 0))
    compiled = Compiled(
        tests, (), model.compiled.causes, sets.members, sets.severities, seen.value, seen.spread, nothing,
        np.zeros_like(seen.value), {},
    )  # fmt: skip
    bare = replace(model.schematic, symptoms={})
    shown = dict(zip(symptoms, presence[SPECIALS:].T, strict=True))
    return _Shown(shown, Model(bare, model.wiring, compiled, model.knowledge, model.priors))


def _evidence(
    model: Model, found: Sequence[Finding], root: Prior, old: Sequence[Evidence], shown: _Shown
) -> list[Evidence]:
    """Each finding over the old hypotheses and the added ones."""
    tested = shown.tests.evidence([f for f in found if not isinstance(f, SymptomFinding)], root)
    rest = iter(tested)
    result = []
    for finding, before in zip(found, old, strict=True):
        if isinstance(finding, SymptomFinding):
            result.append(_symptom(model, finding, root, before, shown.presence[finding.symptom]))
        else:
            new = next(rest)
            likelihood = np.concatenate([before.likelihood, new.likelihood[SPECIALS:]])
            result.append(replace(before, likelihood=likelihood, bound=max(before.bound, new.bound)))
    return result


def _symptom(model: Model, finding: SymptomFinding, root: Prior, before: Evidence, presence: Floats) -> Evidence:
    """A reported symptom over the added hypotheses too; what is reported of sound vehicles stays."""
    index = model.worlds.symptoms.index(finding.symptom)
    base = float(before.likelihood[NONE]) if finding.present else 1.0 - float(before.likelihood[NONE])
    reported = base + (1.0 - base) * presence
    if not finding.present:
        return replace(before, likelihood=np.concatenate([before.likelihood, 1.0 - reported]))
    unsolved = None
    if before.unsolved is not None:
        unsolved = symptom_unsolved(root, index, base, float(model.compiled.otherwise[index]))
    return replace(before, likelihood=np.concatenate([before.likelihood, reported]), unsolved=unsolved)
