"""Models of networks: advice from nodes and roles, beside enumeration and pyAgrum."""

import os
import subprocess
import sys
from itertools import combinations
from math import prod

import numpy as np
import pytest
from discrete import bif_of
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles_network import seen_cases
from outside_engines import discrete_in_pyagrum, pyagrum

from advisor.decision.advise import decide
from advisor.errors import KnowledgeError, RequestError
from advisor.knowledge.likeliest import TOGETHER, likeliest_sets
from advisor.knowledge.loading import load_model
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.shipped import shipped
from advisor.network.engine import posterior
from advisor.network.findings import OutcomeFinding, ReadingFinding, RepairFinding, SymptomFinding
from advisor.network.tree.families import Family
from advisor.network.worlds import SPECIALS

YES = ("no", "yes")
# A pump that wears out with its filter, a hidden load that both tests hang on, and a warm day that nobody asks about.
FAMILIES = (
    Family("Load", ("low", "high"), (), np.array([0.7, 0.3])),
    Family("Filter", ("clean", "torn", "blocked"), (), np.array([0.9, 0.02, 0.08])),
    Family("Pump", ("good", "worn"), ("Filter",), np.array([[0.97, 0.03], [0.6, 0.4], [0.8, 0.2]])),
    Family(
        "Flow",
        ("full", "weak", "none"),
        ("Filter", "Pump", "Load"),
        np.array(
            [
                [[[0.9, 0.1, 0.0], [0.8, 0.2, 0.0]], [[0.3, 0.6, 0.1], [0.1, 0.5, 0.4]]],
                [[[0.85, 0.15, 0.0], [0.7, 0.3, 0.0]], [[0.3, 0.6, 0.1], [0.1, 0.5, 0.4]]],
                [[[0.1, 0.8, 0.1], [0.0, 0.6, 0.4]], [[0.0, 0.4, 0.6], [0.0, 0.1, 0.9]]],
            ]
        ),
    ),
    Family(
        "Hot",
        YES,
        ("Flow", "Load"),
        np.array([[[1.0, 0.0], [0.95, 0.05]], [[0.6, 0.4], [0.3, 0.7]], [[0.1, 0.9], [0.0, 1.0]]]),
    ),
    Family("Gauge", ("low", "mid", "up"), ("Flow",), np.array([[0.05, 0.15, 0.8], [0.2, 0.7, 0.1], [0.9, 0.1, 0.0]])),
    Family("Noise", YES, ("Pump", "Load"), np.array([[[0.95, 0.05], [0.8, 0.2]], [[0.4, 0.6], [0.2, 0.8]]])),
)
ROLES = """
format: network/1
network: pump
title: Pump
file: pump.bif
source: invented
library: LIBRARY
invented: true
places:
  bench: {title: at the bench, open_minutes: 1, close_minutes: 1, exposure: dry-cabin}
conditions:
  running: {text: the pump runs}
parts:
  filter:
    title: filter
    node: Filter
    place: bench
    good: [clean]
    modes:
      torn: {states: [torn]}
      blocked: {states: [blocked]}
    repair: {title: Replace the filter, minutes: 5, price: 10, source: invented}
  pump:
    title: pump
    node: Pump
    place: bench
    good: [good]
    modes:
      worn: {states: [worn]}
    repair: {title: Replace the pump, minutes: 60, price: 200, source: invented}
symptoms:
  hot: {title: It gets hot, node: Hot, shows: ["yes"]}
tests:
  gauge:
    title: Gauge
    node: Gauge
    place: bench
    instrument: eye
    minutes: 1
    condition: running
    outcomes: {low: {states: [low], label: low}, enough: {states: [mid, up], label: mid or up}}
  noise:
    title: Noise
    node: Noise
    place: bench
    instrument: eye
    minutes: 2
    condition: running
    outcomes: {quiet: {states: ["no"], label: quiet}, loud: {states: ["yes"], label: loud}}
"""


def written(tmp_path, roles=ROLES, families=FAMILIES):
    """The files of a network and its roles."""
    (tmp_path / "pump.bif").write_text(bif_of(families))
    path = tmp_path / "pump.yaml"
    path.write_text(roles.lstrip().replace("LIBRARY", str(shipped("models") / "library" / "parts.yaml")))
    return path


@pytest.fixture(scope="module")
def cache(tmp_path_factory):
    """Where converted networks are kept while this file runs."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(scope="module")
def pump(tmp_path_factory, cache):
    """The pump, all of whose fault sets are enumerated."""
    return load_model(written(tmp_path_factory.mktemp("pump")), cache)


HOT = SymptomFinding("hot")
LOW = OutcomeFinding("gauge", "low")
LOUD = OutcomeFinding("noise", "loud")
SAID = {"hot": {"Hot": [0, 1]}, "gauge": {"Gauge": [1, 0, 0]}, "noise": {"Noise": [0, 1]}}


def of_sets(model, likelihoods):
    """P(fault set, evidence) of every listed hypothesis, from the whole joint distribution."""
    states = {"filter/torn": ("Filter", 1), "filter/blocked": ("Filter", 2), "pump/worn": ("Pump", 1)}
    result = []
    for row in model.compiled.members:
        at = {"Filter": 0, "Pump": 0} | dict(states[model.compiled.causes[c]] for c in row if c >= 0)
        hard = {name: np.eye(3 if name == "Filter" else 2)[state] for name, state in at.items()}
        result.append(seen_cases(FAMILIES, {**hard, **likelihoods})[0])
    return np.array(result)


def test_all_fault_sets_are_there(pump):
    """Three causes of two parts make six sets, and nothing is left out."""
    assert len(pump.compiled.members) == SPECIALS + 5
    assert pump.root.omitted == pytest.approx(0.0, abs=1e-12)
    listed = pump.root.weights / 0.6
    expected = of_sets(pump, {})
    assert listed[[0, *range(SPECIALS, 8)]] == pytest.approx(expected[[0, *range(SPECIALS, 8)]], abs=1e-14)


def test_findings_that_hang_together(pump):
    """Weighed one on the other, findings that a hidden node links give P(all | fault set) exactly."""
    findings = [HOT, LOW, LOUD]
    evidence = pump.evidence(findings, pump.root)
    together = {name: each for said in SAID.values() for name, each in said.items()}
    product = np.prod([each.likelihood for each in evidence], axis=0)
    expected = of_sets(pump, together) / of_sets(pump, {})
    rows = [0, *range(SPECIALS, 8)]
    assert product[rows] == pytest.approx(expected[rows], abs=1e-13)
    alone = np.prod([pump.evidence([each], pump.root)[0].likelihood for each in findings], axis=0)
    assert abs(alone[rows] - expected[rows]).max() > 0.01


def test_what_tests_would_show_then(pump):
    """A test's chances under a fault set are those given the findings, not those before them."""
    worlds = pump.worlds_given(np.ones(1), [HOT, LOW])
    block = worlds.likelihood[:, worlds.columns[1]]
    before = of_sets(pump, {**SAID["hot"], **SAID["gauge"]})
    expected = of_sets(pump, {**SAID["hot"], **SAID["gauge"], **SAID["noise"]}) / before
    rows = [0, *range(SPECIALS, 8)]
    assert block[rows, 1] == pytest.approx(expected[rows], abs=1e-13)


def test_shares_are_the_networks(pump):
    """Shares of causes, what is not of the network taken off, are its posteriors."""
    advice = decide(pump, [HOT, LOW, LOUD], depth=1)
    _, expected = seen_cases(FAMILIES, {name: each for said in SAID.values() for name, each in said.items()})
    listed = 1.0 - advice.as_designed - advice.unlisted
    shares = {f"{c.part}/{c.mode}": c.probability / listed for c in advice.causes}
    assert shares["pump/worn"] == pytest.approx(expected["Pump"][1], abs=1e-12)
    assert shares["filter/torn"] == pytest.approx(expected["Filter"][1], abs=1e-12)
    assert shares["filter/blocked"] == pytest.approx(expected["Filter"][2], abs=1e-12)


def test_shares_of_a_complaint(pump):
    """Right after the complaint "as designed" and "unlisted" have the shares of the library's intake."""
    advice, intake = decide(pump, [HOT], depth=1), pump.schematic.library.intake
    assert advice.as_designed == pytest.approx(intake.as_designed_share, abs=1e-12)
    assert advice.unlisted == pytest.approx(intake.unlisted_share, abs=1e-12)


def test_a_repair_ends_what_was_found(pump):
    """What is read after a repair is judged by what it has left: a worn pump that was replaced is hardly suspected."""
    before = decide(pump, [HOT, LOW, LOUD], depth=1)
    after = decide(pump, [HOT, LOW, LOUD, RepairFinding("repair-pump", "gone")], depth=1)
    worn = [next(c for c in advice.causes if c.mode == "worn") for advice in (before, after)]
    assert worn[0].probability > 0.5
    assert worn[1].probability < 0.1
    assert worn[1].low <= worn[1].probability <= worn[1].high


def test_unknown_findings(pump):
    """A finding that the network does not have is told with its pointer."""
    with pytest.raises(RequestError) as caught:
        pump.evidence([HOT, OutcomeFinding("gauge", "high"), ReadingFinding("noise", 1.0)], pump.root)
    assert [problem.pointer for problem in caught.value.problems] == ["#/findings/1", "#/findings/2"]


def test_what_the_network_cannot_give(tmp_path, cache):
    """Findings that contradict each other in the network leave it to what is not listed."""
    look = """  hot-look:
    title: Touch it
    node: Hot
    place: bench
    instrument: eye
    minutes: 1
    condition: running
    outcomes: {cool: {states: ["no"], label: cool}, hot: {states: ["yes"], label: hot}}
"""
    model = load_model(written(tmp_path, ROLES + look), cache)
    advice = decide(model, [HOT, OutcomeFinding("hot-look", "cool")], depth=1)
    assert advice.unlisted == pytest.approx(1.0, abs=1e-12)
    assert all(cause.probability == cause.high == 0.0 for cause in advice.causes)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("node: Pump", "node: Pomp", "has no node 'Pomp', did you mean 'Pump'?"),
        ("good: [clean]", "good: [cleen]", "node 'Filter' has no state 'cleen', did you mean 'clean'?"),
        ("torn: {states: [torn]}", "torn: {states: [clean]}", "state 'clean' is named twice"),
        ("      torn: {states: [torn]}\n", "", "states of node 'Filter' without a meaning: torn"),
        ("node: Pump", "node: Filter", "is the node of 'filter' already"),
        ("file: pump.bif", "file: pomp.bif", "does not exist"),
        ("condition: running", "condition: running-hot", "unknown condition 'running-hot'"),
        ("place: bench", "place: desk", "unknown place 'desk'"),
        ('shows: ["yes"]', "shows: [yes, true]", "expected a text"),
        ("{low: {states: [low], label: low}, enough:", "{enough:", "has fewer than two outcomes"),
    ],
)
def test_wrong_roles(tmp_path, cache, old, new, said):
    """What is wrong with a roles file is told with its line."""
    assert old in ROLES
    with pytest.raises(KnowledgeError) as caught:
        load_model(written(tmp_path, ROLES.replace(old, new)), cache)
    told = [problem for problem in caught.value.problems if said in problem.message]
    assert told, caught.value
    assert told[0].file.endswith("pump.yaml")
    assert told[0].line > 1


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(1e-4, 3.0), min_size=1, max_size=7), st.integers(1, 60), st.integers(0, 10**6))
def test_likeliest_sets(odds, most, seed):
    """The larger sets are the likeliest ones, each with all that it comes from, no two causes of one part."""
    part = np.sort(np.random.default_rng(seed).integers(0, 4, len(odds)))
    part = np.unique(part, return_inverse=True)[1]
    rows = [
        tuple(c for c in row if c >= 0)
        for row in likeliest_sets(np.array(odds), part, most + SPECIALS + len(odds)).tolist()
    ]
    assert rows[:SPECIALS] == [(), (), ()]
    assert rows[SPECIALS : SPECIALS + len(odds)] == [(c,) for c in range(len(odds))]
    larger = rows[SPECIALS + len(odds) :]
    assert len(set(larger)) == len(larger) <= most
    assert all(set(combinations(each, len(each) - 1)) <= set(rows) for each in larger)
    every = [
        each
        for size in range(2, min(TOGETHER, len(set(part.tolist()))) + 1)
        for each in combinations(range(len(odds)), size)
        if len({int(part[c]) for c in each}) == size
    ]
    weight = {each: prod(min(odds[c], 1.0) for c in each) for each in every}
    left = [weight[each] for each in every if each not in larger]
    if larger and left and len(larger) == min(most, len(every)):
        assert max(left) <= min(weight[each] for each in larger) * (1.0 + 1e-9)


WIN95 = shipped("models") / "examples" / "win95pts.yaml"


@pytest.fixture(scope="module")
def win95(cache):
    """The example that comes along."""
    return load_model(WIN95, cache, 400)


def test_the_example_is_pyagrums(win95):
    """Shares of all causes after a complaint and two tests are pyAgrum's posteriors of the whole network."""
    findings = [
        SymptomFinding("no-output"),
        OutcomeFinding("icon", "normal"),
        OutcomeFinding("status-power", "no-error"),
    ]
    advice = decide(win95, findings, depth=1)
    network = win95.tree.network
    engine = pyagrum.LazyPropagation(discrete_in_pyagrum(network))
    seen = {"Problem1": "No_Output", "PrtIcon": "Normal", "PrtStatOff": "No_Error"}
    engine.setEvidence({name: network.by_name[name].states.index(state) for name, state in seen.items()})
    engine.makeInference()
    listed = 1.0 - advice.as_designed - advice.unlisted
    assert len(advice.causes) == len(win95.roles.parts)
    for cause in advice.causes:
        part = win95.roles.parts[cause.part]
        state = network.by_name[part.node].states.index(part.modes[cause.mode].states[0])
        assert cause.probability / listed == pytest.approx(engine.posterior(part.node).toarray()[state], abs=1e-9)


def test_what_is_enumerated_bounds_the_rest(win95, cache):
    """The bounds of the enumerated sets hold the share over the whole network, and more sets narrow them."""
    findings = [SymptomFinding("no-output"), OutcomeFinding("status-power", "off")]
    whole = decide(win95, findings, depth=1)
    more = load_model(WIN95, cache, 1500)
    assert more.root.omitted < 0.4 * win95.root.omitted < 0.01
    for model in (win95, more):
        root = model.prior(Vehicle())
        belief = posterior(model.worlds, root, model.evidence(findings, root), model.axis.prior)
        for i, cause in enumerate(model.wiring.causes):
            share = next(c.probability for c in whole.causes if (c.part, c.mode) == (cause.part, cause.mode.id))
            assert belief.low[i] - 1e-9 <= share <= belief.high[i] + 1e-9


def test_serving_loads_no_pgmpy(tmp_path):
    """A network is advised on, converted now or before, in a process that never loads pgmpy or pandas."""
    path = written(tmp_path)
    code = (
        "import sys, advisor; from advisor.network.findings import SymptomFinding;"
        f"model = advisor.load({str(path)!r});"
        "advisor.advise(model, {'circuit': 'pump', 'findings': [{'symptom': 'hot'}], 'depth': 1});"
        "assert not {'pgmpy', 'pandas', 'torch'} & set(sys.modules), sorted(sys.modules)"
    )
    for _ in range(2):
        done = subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "ADVISOR_CACHE": str(tmp_path / "cache"), "PYTHONPATH": os.pathsep.join(sys.path)},
            check=False,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stderr
