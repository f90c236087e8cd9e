"""A virtual technician: ngspice plays the faulty vehicle, a noisy meter reads it, the advice names each next test.

For every symptom and every single fault that starts it, the loop runs until the advice names no test or eight are
done.  Then the repair that cures the fault must lead the ranking by repair, in nine cases of ten.
"""

import shutil
from collections import Counter

import numpy as np
import pytest
from published.spice_judge import judged

import advisor
from advisor.circuit.netlist import Element
from advisor.circuit.solve import solve
from advisor.decision.advise import decide
from advisor.decision.repairs import repair_plans
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.wiring import severity_cause
from advisor.network.findings import OutcomeFinding, ReadingFinding, SymptomFinding
from advisor.network.worlds import SPECIALS

MOST_TESTS = 8
AT_LEAST = 0.90
CIRCUITS = ("belt-reminder", "reversing-lamps")


class Vehicle:
    """One faulty vehicle: what ngspice says an instrument would show."""

    def __init__(self, model, changes, rng):
        """Changes are one severity of one cause; fuses that they blow in any normal condition stay blown."""
        self.model, self.changes, self.rng = model, changes, rng
        self.predictor = Predictor(model.wiring)
        none = np.zeros((1, len(model.wiring.netlist.of_kind("fuse"))), bool)
        self.blown = none
        for normal in model.schematic.normal.values():
            netlist = model.wiring.under(Setup(model.wiring.usual(normal.when)))
            self.blown = self.blown | solve(netlist, [changes], blown=self.blown).blown

    def answer(self, test):
        """The finding that the test gives, read off the deck with this fault in it."""
        netlist = self.model.wiring.under(test.setup)
        meter = self.model.schematic.library.instruments["voltmeter"]
        seen = test.observed
        if not seen.lamp:
            netlist = netlist.altered({}, [Element("meter", "conductor", seen.red, seen.black, meter.ohms)])
        extra = len(netlist.of_kind("fuse")) - self.blown.shape[1]
        solution = solve(netlist, [self.changes], blown=np.pad(self.blown, ((0, 0), (0, extra))))
        volts = judged(solution)
        read = type(solution)(**{**vars_of(solution), "volts": volts})
        if seen.lamp:
            light = float(read.light(seen.lamp, self.predictor.volts)[0])
            return OutcomeFinding(test.id, next(o.id for o in test.outcomes if light < o.high))
        value = float(read.at(seen.red)[0] - read.at(seen.black)[0])
        value *= 1.0 + self.rng.uniform(-meter.gain_error, meter.gain_error)
        value += self.rng.uniform(-meter.counts_error, meter.counts_error) * meter.resolution
        return ReadingFinding(test.id, round(value / meter.resolution) * meter.resolution)


def vars_of(solution):
    """The fields of a solution by name."""
    return {name: getattr(solution, name) for name in solution.__dataclass_fields__}


def repair_of(model, cause):
    """The repair that restores a cause."""
    return next(plan.id for plan in repair_plans(model.wiring) if cause in plan.restores)


def leading_repair(advice):
    """The repair whose causes hold the largest share."""
    shares = Counter()
    for cause in advice.causes:
        shares[cause.repair] += cause.probability
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
    """Run the loop for one vehicle; the number of tests, and whether the right repair leads."""
    vehicle, findings = Vehicle(model, changes, rng), [SymptomFinding(symptom)]
    for done in range(MOST_TESTS + 1):
        advice = decide(model, findings)
        if advice.next.kind != "test" or done == MOST_TESTS:
            return done, leading_repair(advice) == repair_of(model, cause)
        findings.append(vehicle.answer(model.tests[advice.next.id]))
    raise AssertionError("unreachable")


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_the_right_repair_leads_within_eight_tests(circuit, rng, capsys):
    """At least nine of ten faults end with their own repair first; the worst cases are printed."""
    if shutil.which("ngspice") is None:  # without the judge there is nothing to read; .ci/run demands it
        return
    model, lost, done, total = advisor.load(circuit), [], [], 0
    for symptom in model.schematic.symptoms:
        for cause, changes in starting(model, symptom):
            tests, right = follow(model, symptom, cause, changes, rng)
            total += 1
            done.append(tests)
            if not right:
                lost.append(f"{symptom}: {cause} after {tests} tests")
    with capsys.disabled():
        print(
            f"\n{circuit}: {total - len(lost)} of {total} led by the right repair, {np.mean(done):.1f} tests on average"
        )
        print("\n".join(f"  lost: {line}" for line in lost))
    assert total - len(lost) >= AT_LEAST * total
