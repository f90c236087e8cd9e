"""Does the advice notice that a connector is read from the wrong side, and does it keep quiet where none is.

    cd tests && PYTHONPATH=..:. python -m bench.bench_mirrored --vehicles 200 --above 0.5 0.3

Each vehicle has a fault drawn for its complaint, a connector, and somebody who reads it mirrored or as it is meant:
meters, slips and parts are those of the rich twin.  Up to three tests of that connector are done, the first at random,
then at random or, by choice, as the advice says how to find one's bearings.  Said is what has a probability of
`MIRRORED_ABOVE` or more, or of what is asked for: all thresholds on the same trials.  Connectors of two cavities and
such where a mirrored lead mostly hangs in the air are told apart, and vehicles on which no test of the connector reads
otherwise from the other side are counted: there nothing can be said.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from bench.setting import show
from twin_readings import Technician
from twin_vehicles import Riches, Twin

import advisor
from advisor.decision.bearings import bearings_at
from advisor.decision.next_step import MIRRORED_ABOVE
from advisor.knowledge.catalogue import Test
from advisor.knowledge.mirrors import mirror_of
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.shipped import shipped_circuits
from advisor.network.engine import Posterior, posterior
from advisor.network.findings import Finding, ReadingFinding, SymptomFinding

SEED = 20_240_229
MOST = 3
METER_OHMS, LEADS_OHMS, OPEN_OHMS = 10e6, 0.3, 2e6
"""The twin's meter: its input, its leads, its largest range."""
EQUAL_VOLTS, EQUAL_DECADES = 0.5, 0.3
"""Readings nearer than this are equal for whoever compares sides: judgement, no source."""
AIR_VOLTS = 1.0
"""A lead in the air shows less than this, two spreads of its wandering."""
WAYS = ("by-bearings", "at-random")
KINDS = ("two cavities", "mostly unused", "others")


@dataclass(frozen=True)
class Trial:
    """One vehicle: kind of its connector, whether it was read mirrored, after which finding it was said (0: never).

    `said` has one for each threshold.  `differs` is whether any test of the connector reads otherwise from the other
    side on this very vehicle.
    """

    kind: str
    mirrored: bool
    said: tuple[int, ...]
    differs: bool


def connectors(model: Model) -> dict[str, list[Test]]:
    """Tests of a meter that read something else while mirrored, by connector, of connectors that have two or more."""
    found: dict[str, list[Test]] = {}
    for test in model.compiled.tests:
        mirror = mirror_of(test, model.wiring)
        if mirror:
            found.setdefault(mirror.connector, []).append(test)
    return {name: tests for name, tests in found.items() if len({t.observed.red for t in tests}) > 1}


def kind_of(model: Model, name: str, tests: Sequence[Test]) -> str:
    """Name the kind of a connector."""
    if len(model.schematic.connectors[name].cavities) == 2:
        return KINDS[0]
    unused = sum(mirror_of(test, model.wiring).observed is None for test in tests)
    return KINDS[1] if 2 * unused > len(tests) else KINDS[2]


def belief(model: Model, findings: Sequence[Finding]) -> Posterior:
    """What the findings leave."""
    root = model.prior(Vehicle())
    found = posterior(model.worlds, root, model.evidence(findings, root), model.axis.prior)
    assert found is not None, findings
    return found


def read(technician: Technician, test: Test, *, mirrored: bool) -> Finding:
    """Read one test as it is meant, or at the mirrored cavities; a lead in the air wanders or is over range."""
    if not mirrored:
        return technician.read([(0, test)])[0]
    observed = mirror_of(test, technician.twin.model.wiring).observed
    if observed is not None:
        return technician.read([(0, replace(test, observed=observed))])[0]
    value = None if test.unit == "ohm" else round(float(0.5 * technician.rng.normal()), 2)
    return ReadingFinding(test.id, value)


def differs(technician: Technician, tests: Sequence[Test]) -> bool:
    """Whether some test of a connector reads otherwise from the other side on this vehicle, without meter and slips."""
    return any(_differs(technician, test) for test in tests)


def _differs(technician: Technician, test: Test) -> bool:
    there = mirror_of(test, technician.twin.model.wiring).observed
    ends = [(o.red, o.black) for o in (test.observed, there) if o]
    fleet, nodes = technician.fleet, list(dict.fromkeys(node for pair in ends for node in pair))
    solution = technician.twin.solved(fleet, test.setup, nodes)
    volts, ohms = (np.array(found)[:, 0] for found in zip(*(solution.between(*pair) for pair in ends), strict=True))
    if test.unit == "V":
        shown = volts * METER_OHMS / (METER_OHMS + ohms)
        return bool(np.ptp(shown) > EQUAL_VOLTS if there else abs(shown[0]) > AIR_VOLTS)
    decades = np.log10(np.clip(np.append(ohms, [] if there else OPEN_OHMS), LEADS_OHMS, OPEN_OHMS))
    return bool(np.ptp(decades) > EQUAL_DECADES)


def shares(technician: Technician, symptom: str, tests: Sequence[Test], *, mirrored: bool, guided: bool) -> list[float]:
    """Probability that a connector is mirrored after each finding there."""
    model, rng = technician.twin.model, technician.rng
    name = mirror_of(tests[0], model.wiring).connector
    findings: list[Finding] = [SymptomFinding(symptom)]
    left, each = list(tests), []
    test = left[int(rng.integers(len(left)))]
    for _ in range(MOST):
        findings.append(read(technician, test, mirrored=mirrored))
        left = [t for t in left if t.observed.red != test.observed.red or t.setup != test.setup]
        found = belief(model, findings)
        each.append(found.mirrored[name])
        if not left:
            return each
        best = bearings_at(model, found, name, {t.id for t in left}) if guided else None
        test = model.tests[best.test] if best else left[int(rng.integers(len(left)))]
    return each


def said(each: Sequence[float], above: float) -> int:
    """After which finding a probability is high enough to be said, 0 for never."""
    return next((done for done, share in enumerate(each, 1) if share >= above), 0)


def trials(  # noqa: PLR0913  what a run is made of
    model: Model,
    vehicles: int,
    rng: np.random.Generator,
    *,
    guided: bool,
    among: Sequence[str] = (),
    above: Sequence[float] = (MIRRORED_ABOVE,),
) -> Iterator[Trial]:
    """Draw vehicles evenly over symptoms; each is read once mirrored and once as it is meant."""
    plugs, symptoms = connectors(model), list(model.schematic.symptoms)
    plugs = {name: tests for name, tests in plugs.items() if not among or name in among}
    twin = Twin(model, Riches())
    for number in range(vehicles):
        symptom = symptoms[number % len(symptoms)]
        fleet = twin.fleet(symptom, 1, rng)
        name = str(rng.choice(sorted(plugs)))
        for mirrored in (True, False):
            technician = Technician(twin, fleet, rng)
            each = shares(technician, symptom, plugs[name], mirrored=mirrored, guided=guided)
            apart = differs(technician, plugs[name])
            yield Trial(kind_of(model, name, plugs[name]), mirrored, tuple(said(each, least) for least in above), apart)


def table(found: Sequence[Trial], which: int = 0) -> list[tuple[object, ...]]:
    """Lines: kind, how many, said after one, two, three findings while mirrored, false alarms, can be said, is said."""
    rows = []
    for kind in (*KINDS, "all"):
        mine = [t for t in found if kind in ("all", t.kind)]
        wrong, right = ([t for t in mine if t.mirrored is way] for way in (True, False))
        if wrong:
            told = [float(np.mean([0 < t.said[which] <= n for t in wrong])) for n in range(1, MOST + 1)]
            false = float(np.mean([t.said[which] > 0 for t in right]))
            can = [t.said[which] > 0 for t in wrong if t.differs]
            rows.append((kind, len(wrong), *told, false, len(can), float(np.mean(can)) if can else 0.0))
    return rows


COLUMNS = ("connector", "n", "one finding", "two", "three", "false alarms", "n that differ", "three of these")


def main() -> None:
    """Print one table per circuit, way of choosing tests and threshold."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--vehicles", type=int, default=200)
    parser.add_argument("--circuits", nargs="*", default=list(shipped_circuits()))
    parser.add_argument("--connectors", nargs="*", default=[])
    parser.add_argument("--above", nargs="*", type=float, default=[MIRRORED_ABOVE])
    parser.add_argument("--ways", nargs="*", choices=WAYS, default=WAYS)
    parser.add_argument("--seed", type=int, default=SEED)
    asked = parser.parse_args()
    for way in asked.ways:
        every: list[Trial] = []
        for circuit in asked.circuits:
            model, rng = advisor.load(circuit), np.random.default_rng(asked.seed)
            guided, among = way == WAYS[0], asked.connectors
            found = list(trials(model, asked.vehicles, rng, guided=guided, among=among, above=asked.above))
            every += found
            for which, least in enumerate(asked.above):
                show(f"Mirrored connectors, {circuit}, {way}, {least} or more", COLUMNS, table(found, which))
        for which, least in enumerate(asked.above):
            show(f"All circuits, {way}, {least} or more", COLUMNS, table(every, which))


if __name__ == "__main__":
    main()
