"""Compile a schematic: which tests tell something, which fault sets are kept, what each test would read."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.candidates import Candidates
from advisor.knowledge.catalogue import Setup, Test
from advisor.knowledge.choosing import Sieve, choose, whole_places
from advisor.knowledge.compiled import Compiled
from advisor.knowledge.documents import Schematic
from advisor.knowledge.hypotheses import FaultSets, blocks, coarse_rows, levels, singles
from advisor.knowledge.mirrors import mirrored_tests
from advisor.knowledge.predicting import Floats, Predictor, Seen
from advisor.knowledge.prevalence import Vehicle, notice_days, place_events, prevalence
from advisor.knowledge.reach import Proof, proofs
from advisor.knowledge.readings import as_read, chances, full_scale, outcomes_for
from advisor.knowledge.solving import Progress, Shown, Solver, silent
from advisor.knowledge.supply import exponent, spread_of_supply
from advisor.knowledge.wiring import Wiring, cause_part, severity_cause, wire_up
from advisor.network.priors import odds
from advisor.network.worlds import SPECIALS

HYPOTHESES = 3000
_SAME, _SAME_BUT_FOR = 0.2, 0.05
"""Two conditions whose readings differ by more than this [V, A, decades of ohms or share of light] under few
single faults only, by share of severities, make one test: the first condition's."""
_MOSTLY = 0.5
"""Share of single faults under which a reading has to differ from its mirrored one to tell the sides of a plug."""
LOWER = 0.95
"""Supply, as a share of the rest voltage, at which the sound circuit is solved once more."""
_LEAST_SHARE, _MOST_BEND = 0.005, 1.5
"""Below this share of full scale a reading counts as zero; a power further off than this is a switch's, not a law's."""
_TELLS = 0.02
"""A test is kept if some single fault moves some outcome's probability by more than this beyond slips."""


@dataclass
class _Clock:
    """Seconds that each stage took."""

    seconds: dict[str, float] = field(default_factory=dict)
    last: float = field(default_factory=time.perf_counter)

    def lap(self, stage: str) -> None:
        """End a stage."""
        now = time.perf_counter()
        self.seconds[stage], self.last = now - self.last, now


def compile_schematic(
    schematic: Schematic, hypotheses: int = HYPOTHESES, *, workers: int = 1, progress: Progress = silent
) -> Compiled:
    """Solve a schematic under about `hypotheses` fault sets and every setup that its tests need.

    Args:
        schematic: The circuit.
        hypotheses: About how many fault sets.
        workers: Processes that a large circuit may use.  Other than one only where the main module can be imported
            without effects, as each process does so.
        progress: Told how far it is.

    Raises:
        CircuitError: the circuit floats or its switching logic never settles.
    """
    clock, wiring = _Clock(), wire_up(schematic)
    predictor, candidates = Predictor(wiring), Candidates(wiring)
    solver = Solver(predictor, workers, progress)
    offered = candidates.tests()
    clock.lap("wiring and candidate tests")
    first = singles(wiring.causes)
    turned = mirrored_tests(offered, wiring)
    seen = solver.solve("single faults", [*offered, *turned], first)
    offered = with_outcomes(predictor, offered, first, seen)
    ids = {test.id: len(offered) + i for i, test in enumerate(turned)}
    kept = _telling(predictor, offered, seen, _tells_sides(offered, ids, seen))
    tests = [replace(offered[i], for_sides=for_sides) for i, for_sides in kept.items()]
    mirrored = mirrored_tests(tests, wiring)
    columns = [*kept, *(ids[test.id] for test in mirrored)]
    clock.lap("single faults")
    choice = sieve_of(wiring, seen.presence, proofs(wiring))
    more = larger_sets(wiring, choice, max(hypotheses - len(first), 0))
    clock.lap("choice of larger sets")
    second = solver.solve("larger sets", [*tests, *mirrored], more)
    clock.lap("larger sets")
    sets, straight = first.joined(more), slice(len(tests))
    value, spread, jumps = (
        np.concatenate([getattr(seen, name)[:, columns], getattr(second, name)])
        for name in ("value", "spread", "jumps")
    )
    return Compiled(
        tests=tuple(tests),
        withheld=tuple(candidates.withheld),
        causes=tuple(cause.id for cause in wiring.causes),
        members=sets.members,
        severities=sets.severities,
        value=value[:, straight],
        spread=spread[:, straight],
        jumps=jumps[:, straight],
        presence=np.concatenate([seen.presence, second.presence]),
        jumper_amps=np.concatenate([seen.jumper_amps[:, columns], second.jumper_amps])[:, straight],
        seconds=clock.seconds,
        needs=choice.needs,
        otherwise=choice.otherwise,
        bend=bend(wiring, tests, value[0, straight]),
        latched=np.concatenate([seen.latched, second.latched]),
        mirrored=np.stack([value, spread, jumps])[:, :, len(tests) :],
        mirrored_bend=bend(wiring, mirrored, value[0, len(tests) :]),
    )


def bend(wiring: Wiring, tests: Sequence[Test], usual: Floats) -> Floats:
    """Power by which each reading of the sound circuit follows the supply, less the usual one, shape (T,).

    A fan's current grows with the square of its speed, a lamp's with the root of its voltage; so a drop on the way to
    a motor follows the supply with a power of about 1.5.  Readings near zero, ohms and what switches are left alone.
    """
    elements = [replace(e, volts=e.volts * LOWER) if e.kind == "source" else e for e in wiring.netlist.elements]
    lower = replace(wiring, netlist=replace(wiring.netlist, elements=tuple(elements)))
    sound, run = singles(()), Predictor(lower)
    found = run.predict(tests, sound, run.latched(sound)).value[0]
    power = np.array([exponent(test) for test in tests])
    least = np.array([_LEAST_SHARE * full_scale(test, run.volts) for test in tests])
    follows = (power > 0.0) & (np.minimum(usual, found) > least)
    ratio = np.where(follows, found, 1.0) / np.where(follows, usual, 1.0)
    bent: Floats = np.where(follows, np.log(ratio) / np.log(LOWER) - power, 0.0)
    return np.where(np.abs(bent) < _MOST_BEND, bent, 0.0)


def sieve_of(wiring: Wiring, presence: Floats, proved: Sequence[Proof]) -> Sieve:
    """By what larger sets are chosen: a usual vehicle, and P(symptom | single fault), shape (3 + V, S)."""
    x = prevalence(wiring, notice_days(wiring.schematic, presence[SPECIALS:]), Vehicle())
    by_cause = np.bincount(severity_cause(wiring), x, minlength=len(wiring.causes)).astype(np.float64)
    parts = cause_part(wiring)
    return Sieve(
        odds(by_cause, parts),
        parts,
        place_events(wiring),
        x @ presence[SPECIALS:],
        np.array([proof.needs for proof in proved], dtype=bool).reshape(-1, len(by_cause)),
        np.array([proof.otherwise for proof in proved]),
        coarse_rows(wiring.causes),
    )


def larger_sets(wiring: Wiring, sieve: Sieve, most: int) -> FaultSets:
    """Whole places, pairs and triples, about `most` sets; a place of three parts comes in all severities."""
    places = whole_places(sieve)
    stacks = [
        blocks(wiring.causes, [place for place in places if len(place) == 3]),
        levels(wiring.causes, [place for place in places if len(place) > 3]),
    ]
    there = sum(len(stack) for stack in stacks)
    chosen = blocks(wiring.causes, choose(sieve, max(most - there, 0), frozenset(places)))
    return chosen.joined(stacks[0]).joined(stacks[1])


def with_outcomes(predictor: Predictor, tests: Sequence[Test], sets: FaultSets, seen: Seen | Shown) -> list[Test]:
    """The tests with their normal value, that of the sound circuit, and the outcomes named after it.

    `seen` is of all single faults, `sets`, the sound circuit first.  What a source can do wrong may raise a reading
    above what is usual; what else fails takes load off it at most.
    """
    limits = {name: limit.value for name, limit in predictor.schematic.library.limits.items()}
    elements = predictor.wiring.netlist.elements
    forced = [any(elements[c.element].kind == "source" for c in changes) for changes in sets.changes]
    most = seen.value.max(axis=0, initial=-np.inf, where=np.array(forced)[:, None])
    each = zip(tests, seen.value[0].tolist(), most.tolist(), strict=False)
    read = [(test, as_read(test, normal), as_read(test, most)) for test, normal, most in each]
    return [
        replace(test, normal_value=normal, outcomes=outcomes_for(test, normal, most, limits, predictor.volts))
        for test, normal, most in read
    ]


def _tells_sides(tests: Sequence[Test], mirrored: Mapping[str, int], seen: Seen | Shown) -> NDArray[np.bool_]:
    """Whether each test mostly reads otherwise from the other side of its plug, shape (T,).

    `mirrored` has the column of what a test reads then; a lead in the air tells the same in every setup.
    """
    there = [mirrored.get(test.id, i) for i, test in enumerate(tests)]
    apart = np.abs(seen.value[:, : len(tests)] - seen.value[:, there]) > _SAME
    return np.asarray(apart.mean(axis=0) > _MOSTLY)


def _telling(
    predictor: Predictor, tests: Sequence[Test], seen: Seen | Shown, sides: NDArray[np.bool_]
) -> dict[int, bool]:
    """Indices of the tests that tell something: some fault moves them, and no earlier one reads just the same.

    One that reads just the same is kept, as true, if it alone of those tells the `sides` of its plug apart.  Of looks
    that read just the same, one at what a customer may report goes first.  The battery's voltage is always among them.
    A known-good part has to move some fault that the look without it does not.
    """
    reports = _reported(predictor)
    plain = {(t.observed, replace(t.setup, swap="").key): i for i, t in enumerate(tests) if t.kind == "look"}
    kept: dict[int, bool] = {}
    readings: dict[tuple[object, ...], list[int]] = {}
    for i, test in sorted(enumerate(tests), key=lambda pair: (pair[1].observed.load, pair[1].setup.key) not in reports):
        twins = readings.setdefault((test.kind, test.observed, test.probe, test.setup.unplug), [])
        # looks are cheap, and confirm complaints; next door a shared ground may be all that moves them
        but_for = 0.0 if test.kind == "look" else _SAME_BUT_FOR
        alike = any((np.abs(seen.value[:, i] - seen.value[:, k]) > _SAME).mean() <= but_for for k in twins)
        if alike and not (sides[i] and not sides[twins].any()):
            continue
        look = plain[test.observed, replace(test.setup, swap="").key] if test.setup.swap else i
        if test.setup.swap and not (np.abs(seen.value[:, i] - seen.value[:, look]) > _SAME).any():
            continue
        tool, full = predictor.tools[test.instrument], full_scale(test, predictor.volts)
        supply = np.abs(seen.value[:, i]) * exponent(test) * spread_of_supply(predictor.tools["voltmeter"])
        p = chances(seen.value[:, i], np.hypot(seen.spread[:, i], supply), test, tool, full)
        always = test.observed.red == predictor.wiring.supply and not twins  # every later reading leans on it
        if always or np.abs(p[SPECIALS:] - p[0]).max(initial=0.0) > _TELLS + tool.slip:
            kept[i] = alike
            twins.append(i)
    return dict(sorted(kept.items()))


def _reported(predictor: Predictor) -> set[tuple[str, str]]:
    """Loads that some symptom is about, each with the setup in which it is seen."""
    wiring = predictor.wiring
    glances = [glance for symptom in wiring.schematic.symptoms.values() for glance in symptom.glances]
    return {(load, Setup(wiring.usual(glance.when)).key) for glance in glances for load in glance.sees}
