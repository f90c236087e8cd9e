"""One vehicle with chosen faults under one setup: what every node, load, unit and test then shows."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.circuit.netlist import BENT, ROTOR, Change
from advisor.circuit.solve import Solution
from advisor.errors import UsageError
from advisor.knowledge.candidates import Candidates
from advisor.knowledge.catalogue import Outcome, Setup, Test
from advisor.knowledge.checking import look_at
from advisor.knowledge.compiling import with_outcomes
from advisor.knowledge.documents import Schematic
from advisor.knowledge.hypotheses import FaultSets, singles
from advisor.knowledge.notes import suggestion
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.readings import as_read
from advisor.knowledge.wiring import Cause, wire_up


@dataclass(frozen=True)
class Scene:
    """What is asked: settings by control, faults as PART/MODE or PART/MODE@OHMS, connectors apart, a jumper, a test.

    A test brings its own setup; settings, unplugged connectors or a jumper given here take the place of its own.
    """

    settings: Mapping[str, str]
    faults: Sequence[str] = ()
    unplug: Sequence[str] = ()
    jumper: tuple[str, str] | None = None
    test: str | None = None


@dataclass(frozen=True)
class Load:
    """What a load does: voltage [V], current [A], light or speed as a share of normal, how it looks."""

    volts: float
    amps: float
    share: float
    look: str


@dataclass(frozen=True)
class Shown:
    """What a test shows: value [V, A, ohm, or share of light] with the meter's load, spread, and outcome."""

    test: Test
    value: float
    spread: float
    outcome: Outcome


@dataclass(frozen=True)
class Simulation:
    """One solved scene.

    Attributes:
        setup: How the vehicle stands.
        faults: The faults that were put in, each with its severity [ohm] where it has several.
        solution: The operating point, one row.
        loads: What every lamp and motor does, by part.
        drivers: Whether each unit's output is on, by UNIT/OUTPUT.
        blown_fuses: Fuses that are open, those that opened earlier in some normal condition included.
        shown: What the test shows, if one was asked for.
    """

    setup: Setup
    faults: tuple[str, ...]
    solution: Solution
    loads: Mapping[str, Load]
    drivers: Mapping[str, bool]
    blown_fuses: tuple[str, ...]
    shown: Shown | None

    @property
    def nodes(self) -> dict[str, float]:
        """Voltage of every node to the battery's negative post [V]."""
        names = (self.solution.netlist.reference, *self.solution.netlist.nodes)
        return {node: float(self.solution.at(node)[0]) for node in names}

    @property
    def currents(self) -> dict[str, float]:
        """Current through every element, from its first to its second end [A]."""
        ids = [element.id for element in self.solution.netlist.elements]
        return dict(zip(ids, self.solution.currents[0].tolist(), strict=True))


def simulate(schematic: Schematic, scene: Scene) -> Simulation:
    """Solve one scene of a circuit.

    Raises:
        UsageError: the scene names something that the circuit does not have; the nearest names are given.
        CircuitError: the circuit floats or its switching logic never settles.
    """
    run = Predictor(wire_up(schematic))
    faults = [_fault(run, text) for text in scene.faults]
    parts = [name.rpartition("/")[0] for name, _ in faults]
    if len(set(parts)) < len(parts):
        raise UsageError(f"two faults of one part: {', '.join(scene.faults)}; a part fails in one way at a time")
    test = None if scene.test is None else _test(run, scene.test)
    setup = _setup(run, scene, test)
    sets = _sets([change for _, changes in faults for change in changes])
    latched = run.latched(sets)
    probes = () if test is None else [n for n in (test.observed.red, test.observed.black) if n]
    solution = run.solved(setup, sets, latched, probes)
    return Simulation(
        setup,
        tuple(name + _severity(changes, run, name) for name, changes in faults),
        solution,
        _loads(run, solution),
        _drivers(solution),
        tuple(solution.netlist.elements[f].id for f in solution.netlist.of_kind("fuse")[solution.blown[0]]),
        None if test is None else _shown(run, test, solution, sets),
    )


def _known(kind: str, name: str, valid: Collection[str]) -> str:
    if name not in valid:
        raise UsageError(f"unknown {kind} {name!r}, {suggestion(name, valid)}")
    return name


def _fault(run: Predictor, text: str) -> tuple[str, tuple[Change, ...]]:
    """The cause's id and its changes: the severity asked for, or the middle one."""
    name, _, ohms = text.partition("@")
    causes = {cause.id: cause for cause in run.wiring.causes}
    cause = causes[_known("fault", name, causes)]
    if not ohms:
        return name, cause.variants[len(cause.variants) // 2]
    return name, min(cause.variants, key=lambda changes: abs(math.log(changes[0].value / _ohms(cause, ohms))))


def _ohms(cause: Cause, text: str) -> float:
    if len(cause.variants) == 1:
        raise UsageError(f"{cause.id} has no severities; leave out @{text}")
    try:
        ohms = float(text)
    except ValueError:
        ohms = math.nan
    if not 0.0 < ohms < math.inf:
        raise UsageError(f"the severity of {cause.id} is a positive resistance in ohms, not {text!r}")
    return ohms


def _severity(changes: Sequence[Change], run: Predictor, name: str) -> str:
    several = any(cause.id == name and len(cause.variants) > 1 for cause in run.wiring.causes)
    return f"@{changes[0].value:.3g}" if several else ""


def _test(run: Predictor, name: str) -> Test:
    candidates = Candidates(run.wiring)
    tests = {test.id: test for test in candidates.tests()}
    for withheld in candidates.withheld:
        if withheld.test == name:
            raise UsageError(f"test {name!r} is never done: {withheld.reason}")
    return tests[_known("test", name, tests)]


def _setup(run: Predictor, scene: Scene, test: Test | None) -> Setup:
    controls = run.schematic.controls
    for name, value in scene.settings.items():
        _known(f"value of {name}", value, controls[_known("control", name, controls)])
    for connector in scene.unplug:
        _known("connector", connector, run.wiring.contacts)
    for node in scene.jumper or ():
        _known("node", node, run.wiring.netlist.node_index)
    if scene.jumper is not None and scene.jumper[0] == scene.jumper[1]:
        raise UsageError(f"the jumper has both ends at {scene.jumper[0]!r}")
    own = Setup(run.wiring.usual({})) if test is None else test.setup
    settings = run.wiring.usual(scene.settings) if scene.settings else own.settings
    return Setup(settings, tuple(dict.fromkeys(scene.unplug)) or own.unplug, scene.jumper or own.jumper, own.lamp)


def _sets(changes: Sequence[Change]) -> FaultSets:
    """One fault set that has no neighbours in severity."""
    absent = np.full((1, 2), -1, dtype=np.intp), np.zeros((1, 2, 2), dtype=np.intp)
    return FaultSets(*absent, (tuple(changes),), np.zeros((1, 4), dtype=np.intp))


def _loads(run: Predictor, solution: Solution) -> dict[str, Load]:
    loads = {}
    kinds = ("horn", "heater", "gauge", "charge", "gassing")
    powered = [e.id for e in solution.netlist.elements if run.wiring.load_kind(e.id) in kinds]
    for index in (*solution.netlist.of_kind(*BENT), *(solution.netlist.element_index[id] for id in powered)):
        load = solution.netlist.elements[index].id.removesuffix(ROTOR)
        ends = solution.netlist.elements[solution.netlist.element_index[load]].a, solution.netlist.elements[index].b
        volts = solution.at(ends[0])[0] - solution.at(ends[1])[0]
        share = float(solution.shown(load, run.volts)[0])
        look = look_at(run.wiring, load, share)
        loads[load] = Load(float(volts), float(solution.currents[0, index]), share, look)
    return loads


def _drivers(solution: Solution) -> dict[str, bool]:
    ids = [solution.netlist.elements[d].id.removesuffix("/driver") for d in solution.netlist.of_kind("driver")]
    return dict(zip(ids, solution.on[0].tolist(), strict=True))


def _shown(run: Predictor, test: Test, solution: Solution, sets: FaultSets) -> Shown:
    """Outcomes are named by what the sound circuit and single faults would show in the test's own setup."""
    every = singles(run.wiring.causes)
    [test] = with_outcomes(run, [test], every, run.predict([test], every, run.latched(every)))
    seen = run.observe(solution, [test], sets)
    value, spread = float(seen.value[0, 0]), float(seen.spread[0, 0])
    if test.unit == "ohm":
        spread *= as_read(test, value) * math.log(10.0)
    value = as_read(test, value)
    outcome = next(outcome for outcome in test.outcomes if value < outcome.high)
    return Shown(test, value, spread, outcome)
