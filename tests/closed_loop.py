"""A virtual technician: ngspice plays the faulty vehicle, a noisy meter reads it, the advice names each next test.

For a symptom and a single fault that starts it, the loop runs until the advice names no test or eight are done.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from published.spice_judge import judged

from advisor.circuit.netlist import Element
from advisor.circuit.solve import solve
from advisor.decision.advise import decide
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.places import path
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.wiring import severity_cause
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.worlds import SPECIALS

MOST_TESTS = 8


class Vehicle:
    """One faulty vehicle: what ngspice says an instrument would show."""

    def __init__(self, model, cause, changes, rng):
        """Changes are one severity of one cause; fuses that they blow in any normal condition stay blown."""
        self.model, self.cause, self.changes, self.rng = model, cause, changes, rng
        self.predictor = Predictor(model.wiring)
        none = np.zeros((1, len(model.wiring.netlist.of_kind("fuse"))), bool)
        self.blown = none
        for normal in model.schematic.normal.values():
            netlist = model.wiring.under(Setup(model.wiring.usual(normal.when)))
            self.blown = self.blown | solve(netlist, [changes], blown=self.blown).blown

    def answer(self, test):
        """The finding that the test gives, read off the deck with this fault in it."""
        if test.kind == "inspect":
            return self.inspected(test)
        netlist = self.model.wiring.under(test.setup)
        if test.unit == "ohm":
            return self.resistance(test, netlist)
        meter = self.model.schematic.library.instruments["voltmeter"]
        seen = test.observed
        if test.unit == "V":
            netlist = netlist.altered({}, [Element("meter", "conductor", seen.red, seen.black, meter.ohms)])
        extra = len(netlist.of_kind("fuse")) - self.blown.shape[1]
        solution = solve(netlist, [self.changes], blown=np.pad(self.blown, ((0, 0), (0, extra))))
        volts = judged(solution)
        read = type(solution)(**{**vars_of(solution), "volts": volts})
        if seen.load:
            share = float(read.shown(seen.load, self.predictor.volts)[0])
            return OutcomeFinding(test.id, next(o.id for o in test.outcomes if share < o.high))
        if test.unit == "A":
            clamp = self.model.schematic.library.instruments["clamp"]
            amps = abs(float(read.currents[0, netlist.element_index[seen.wire]])) * (1 + self.rng.uniform(-0.02, 0.02))
            return ReadingFinding(test.id, round(amps / clamp.resolution) * clamp.resolution)
        value = float(read.at(seen.red)[0] - read.at(seen.black)[0])
        value *= 1.0 + self.rng.uniform(-meter.gain_error, meter.gain_error)
        value += self.rng.uniform(-meter.counts_error, meter.counts_error) * meter.resolution
        return ReadingFinding(test.id, round(value / meter.resolution) * meter.resolution)

    def resistance(self, test, netlist):
        """What the ohms range shows: 20 mV behind 100 ohm, with and without, leads of 0.2 to 0.5 ohm in series."""
        red, black = test.observed.red, test.observed.black
        meter = [Element("meter", "conductor", "probe", black, 100.0), Element("leads", "conductor", "probe", red, 0.3)]
        driven = [Element("meter", "source", "probe", black, 100.0, 0.02), meter[1]]
        volts = []
        for extra in (meter, driven):
            solution = solve(netlist.altered({}, extra), [self.changes], blown=self.blown)
            read = type(solution)(**{**vars_of(solution), "volts": judged(solution)})
            volts.append(float(read.at("probe")[0] - read.at(black)[0]))
        rise = volts[1] - volts[0]
        ohms = 100.0 * rise / (0.02 - rise) + self.rng.uniform(-0.1, 0.2) if rise < 0.0199 else np.inf
        if abs(volts[0]) > 1e-3 or ohms > 1e4:  # coarse numbers do for what the outcomes tell apart
            return OutcomeFinding(test.id, next(o.id for o in test.outcomes if min(ohms, 1e12) < o.high))
        return ReadingFinding(test.id, round(ohms, 1))

    def inspected(self, test):
        """What a look finds, drawn with the library's chance of seeing this fault; it is no electrical test."""
        part, mode = self.cause.rsplit("/", 1)
        chance = self.model.schematic.library.instruments["visual"].false_find
        if part in test.observed.parts:
            chance = next(m.seen for m in self.model.wiring.items[part].type.modes if m.id == mode)
        blown = [self.model.wiring.netlist.elements[f].id for f in self.model.wiring.netlist.of_kind("fuse")]
        if set(np.array(blown)[self.blown[0]]) & set(test.observed.parts):
            chance = 1.0
        return OutcomeFinding(test.id, "damage" if self.rng.random() < chance else "sound")


def vars_of(solution):
    """The fields of a solution by name."""
    return {name: getattr(solution, name) for name in solution.__dataclass_fields__}


def leader(advice, key):
    """What holds the largest share of the causes by one of their attributes."""
    shares = Counter()
    for cause in advice.causes:
        shares[getattr(cause, key)] += cause.probability
    return shares.most_common(1)[0][0]


def starting(model, symptom):
    """Each cause that starts the symptom, in the severity in the middle of those that do."""
    index = list(model.schematic.symptoms).index(symptom)
    causes = severity_cause(model.wiring)
    shows = model.compiled.presence[SPECIALS : SPECIALS + len(causes), index] > 0.5
    for number, cause in enumerate(model.wiring.causes):
        (severities,) = np.nonzero(shows & (causes == number))
        if len(severities):
            first = int(np.flatnonzero(causes == number)[0])
            yield cause.id, cause.variants[int(severities[len(severities) // 2]) - first]


def follow(model, symptom, cause, changes, rng):
    """Run the loop for one vehicle: number of tests, and whether its section and its very repair lead the ranking."""
    vehicle, findings, opened = Vehicle(model, cause, changes, rng), [SymptomFinding(symptom)], frozenset()
    for done in range(MOST_TESTS + 1):
        advice = decide(model, findings, opened=opened)
        if advice.next.kind != "test" or done == MOST_TESTS:
            break
        test = model.tests[advice.next.id]
        findings.append(vehicle.answer(test))
        if test.opens:
            opened |= frozenset(path(model.schematic.places, test.place))
    (true,) = (c for c in advice.causes if f"{c.part}/{c.mode}" == cause)
    return done, leader(advice, "group") == true.group, leader(advice, "repair") == true.repair


@dataclass(frozen=True)
class Ran:
    """How one vehicle went: tests done, and whether its section and its very repair lead the ranking."""

    name: str
    tests: int
    section: bool
    repair: bool


def faults(model):
    """Every symptom with every cause that starts it, in the severity in the middle of those that do."""
    return [(s, cause, changes) for s in model.schematic.symptoms for cause, changes in starting(model, s)]


def run(model, chosen, rng):
    """Run the loop for some vehicles, shape as `faults` gives them."""
    return [Ran(f"{s}: {cause}", *follow(model, s, cause, changes, rng)) for s, cause, changes in chosen]


def told(circuit, ran):
    """What came of it in words, with every vehicle whose section was lost."""
    sections, repairs = sum(r.section for r in ran), sum(r.repair for r in ran)
    mean = np.mean([r.tests for r in ran])
    yield f"{circuit}: of {len(ran)} faults {sections} led by section, {repairs} by repair; {mean:.1f} tests on average"
    yield from (f"  section lost: {r.name} after {r.tests} tests" for r in ran if not r.section)
