"""Published discrete networks answered by the tree of buckets: printed numbers, and two engines written elsewhere.

The networks are those that come with pgmpy.  pgmpy answers by variable elimination, pyAgrum, given every number as a
double, by its own junction trees.
"""

import numpy as np
import pytest
from discrete import drawn_cases, one_case, seen, shipped_with_pgmpy
from outside_engines import VariableElimination, discrete_in_pgmpy, discrete_in_pyagrum, pyagrum

from advisor.network.tree.compiled import compile_tree
from advisor.network.tree.evidence import Seen
from advisor.network.tree.families import Discrete, Family, NoisyMax
from advisor.network.tree.joints import joints
from advisor.network.tree.running import posteriors, retracted

NO_YES = ("no", "yes")


def chance(name, p, *parents):
    """A variable that is yes with a probability, or with one for each row of its parents, the last parent fastest."""
    p = np.array(p, dtype=float)
    table = np.stack([1.0 - p, p], axis=-1).reshape(*[2] * len(parents), 2)
    return Family(name, NO_YES, parents, table)


def answered(network, *cases):
    """P(yes) of every variable in each case, and P(evidence)."""
    found = posteriors(compile_tree(network), Seen.of(network, cases))
    return [
        {name: float(table[i, -1]) for name, table in found.by_name.items()} | {"P": float(np.exp(log))}
        for i, log in enumerate(found.log_evidence)
    ]


# S. Lauritzen, D. Spiegelhalter, "Local computations with probabilities on graphical structures", 1988: chest clinic;
# the numbers by full enumeration of the published tables.
CHEST = Discrete(
    (
        chance("asia", 0.01),
        chance("smoke", 0.5),
        chance("tub", [0.01, 0.05], "asia"),
        chance("lung", [0.01, 0.1], "smoke"),
        chance("bronc", [0.3, 0.6], "smoke"),
        chance("either", [0, 1, 1, 1], "lung", "tub"),
        chance("xray", [0.05, 0.98], "either"),
        chance("dysp", [0.1, 0.8, 0.7, 0.9], "either", "bronc"),
    )
)


@pytest.mark.parametrize(
    ("case", "expected"),
    [
        ({}, {"tub": 0.0104, "lung": 0.055, "bronc": 0.45, "either": 0.064828, "xray": 0.11029004, "dysp": 0.4359706}),
        ({"dysp": "yes"}, {"tub": 0.01884531, "lung": 0.10275922, "bronc": 0.83396734, "xray": 0.16209833}),
        (
            {"asia": "yes", "dysp": "yes"},
            {"tub": 0.08775096, "lung": 0.09952515, "bronc": 0.81140207, "P": 0.004501375},
        ),
        (
            {"asia": "yes", "dysp": "yes", "smoke": "no"},
            {"tub": 0.11283498, "lung": 0.022567, "bronc": 0.71794225, "P": 0.0016838750},
        ),
        ({"asia": "yes", "dysp": "yes", "xray": "yes"}, {"tub": 0.39171172, "lung": 0.44427051, "bronc": 0.62882178}),
        ({"dysp": "yes", "xray": "yes"}, {"tub": 0.11393333, "lung": 0.6212528, "bronc": 0.68186854}),
    ],
)
def test_chest_clinic(case, expected):
    """The chest clinic, from nothing known to several findings; the network that comes with pgmpy is the same one."""
    (found,) = answered(CHEST, case)
    assert {name: found[name] for name in expected} == pytest.approx(expected, abs=5e-9)
    shipped = shipped_with_pgmpy("asia")
    theirs = posteriors(compile_tree(shipped), Seen.of(shipped, [case])).by_name
    assert theirs["lung"][0, shipped.by_name["lung"].states.index("yes")] == pytest.approx(found["lung"], abs=1e-12)


def test_burglary():
    """S. Russell, P. Norvig, fig. 14.2: P(burglary | both call) = .2842 as printed."""
    network = Discrete(
        (
            chance("burglary", 0.001),
            chance("quake", 0.002),
            chance("alarm", [0.001, 0.29, 0.94, 0.95], "burglary", "quake"),
            chance("john", [0.05, 0.9], "alarm"),
            chance("mary", [0.01, 0.7], "alarm"),
        )
    )
    both, nothing = answered(network, {"john": "yes", "mary": "yes"}, {})
    assert both["burglary"] == pytest.approx(0.284171835364393, abs=1e-14)
    assert both["quake"] == pytest.approx(0.17606683840507917, abs=1e-14)
    assert both["alarm"] == pytest.approx(0.7606920388631079, abs=1e-14)
    assert nothing["alarm"] == pytest.approx(0.002516442, abs=1e-15)


def test_sprinkler():
    """K. Murphy's wet grass, in Russell and Norvig, fig. 14.12."""
    network = Discrete(
        (
            chance("cloudy", 0.5),
            chance("sprinkler", [0.5, 0.1], "cloudy"),
            chance("rain", [0.2, 0.8], "cloudy"),
            chance("wet", [0, 0.9, 0.9, 0.99], "sprinkler", "rain"),
        )
    )
    wet, both, on = answered(network, {"wet": "yes"}, {"wet": "yes", "rain": "yes"}, {"sprinkler": "yes"})
    assert (wet["P"], wet["sprinkler"], wet["rain"]) == pytest.approx((0.6471, 0.4297635605, 0.7079276773), abs=1e-10)
    assert (both["sprinkler"], on["rain"]) == pytest.approx((0.1944990177, 0.3), abs=1e-10)


def test_car_start():
    """F. Jensen, T. Nielsen, car start (parameters from memory): a car that does not start, with each gauge reading."""
    gauge = np.array([[0.998, 0.001, 0.001], [0.01, 0.60, 0.39]])
    network = Discrete(
        (
            chance("fuel", 0.98),
            chance("clean", 0.96),
            Family("gauge", ("empty", "half", "full"), ("fuel",), gauge),
            chance("starts", [0, 0, 0.01, 0.99], "fuel", "clean"),
        )
    )
    readings = [{}, {"gauge": "half"}, {"gauge": "empty"}, {"gauge": "full"}]
    found = answered(network, *({"starts": "no", **reading} for reading in readings))
    expected = [
        (0.2931863492, 0.580626246),
        (0.0006908558, 0.8043496283),
        (0.9764134514, 0.0580408333),
        (0.0010624599, 0.8040653965),
    ]
    for each, pair in zip(found, expected, strict=True):
        assert (1.0 - each["fuel"], 1.0 - each["clean"]) == pytest.approx(pair, abs=1e-9)
    assert (found[0]["P"], found[1]["P"]) == pytest.approx((0.068216, 0.0289496), abs=1e-12)


def test_quickscore():
    """D. Heckerman, "A tractable inference algorithm for diagnosing multiple diseases", 1989, on compact noisy-ORs."""
    prior = {"d1": 0.1, "d2": 0.05, "d3": 0.02}
    fails = {"f1": (0.8, 0.3, 0.0), "f2": (0.0, 0.6, 0.9), "f3": (0.5, 0.5, 0.5)}
    findings = tuple(
        NoisyMax(name, NO_YES, tuple(prior), np.array([1.0, 0.0]), tuple(np.array([[1, 0], [1 - c, c]]) for c in q))
        for name, q in fails.items()
    )
    network = Discrete((*(chance(name, p) for name, p in prior.items()), *findings))
    (found,) = answered(network, {"f1": "yes", "f2": "yes", "f3": "no"})
    assert found["P"] == pytest.approx(0.00501822, abs=1e-12)
    expected = [0.19616915958248138, 0.9318483446321604, 0.0831211066872317]
    assert [found[name] for name in prior] == pytest.approx(expected, abs=1e-12)


SIZES = {"asia": 30, "alarm": 10, "insurance": 5, "win95pts": 10, "hepar2": 5, "hailfinder": 5}
"""Cases held against each engine here; `bench/bench_networks.py` runs 2,000 and the larger networks too."""


@pytest.mark.parametrize("name", SIZES)
def test_pyagrum(name, rng):
    """P(evidence) and all posteriors of cases drawn from the network, a fifth of it seen, are pyAgrum's."""
    network = shipped_with_pgmpy(name)
    codes = drawn_cases(network, SIZES[name], 0.2, rng)
    found = posteriors(compile_tree(network), seen(network, codes))
    engine = pyagrum.ShaferShenoyInference(discrete_in_pyagrum(network))
    for i in range(SIZES[name]):
        engine.setEvidence({n: int(c[i]) for n, c in codes.items() if c[i] >= 0})
        engine.makeInference()
        assert found.log_evidence[i] == pytest.approx(np.log(engine.evidenceProbability()), abs=1e-9)
        for variable, table in found.by_name.items():
            assert table[i] == pytest.approx(engine.posterior(variable).toarray(), abs=1e-9)


def test_pyagrum_takes_soft_evidence_alike(rng):
    """Likelihoods of variables seen with doubt are multiplied in as pyAgrum does."""
    network = shipped_with_pgmpy("alarm")
    soft = {name: rng.random((1, network.cards[name])) + 0.01 for name in ("HR", "SAO2", "CATECHOL", "PRESS")}
    found = posteriors(compile_tree(network), Seen(network, 1, likelihoods=soft))
    engine = pyagrum.LazyPropagation(discrete_in_pyagrum(network))
    engine.setEvidence({name: given[0].tolist() for name, given in soft.items()})
    engine.makeInference()
    for variable, table in found.by_name.items():
        assert table[0] == pytest.approx(engine.posterior(variable).toarray(), abs=1e-9)


@pytest.mark.parametrize("name", ["asia", "alarm", "win95pts"])
def test_pgmpy(name, rng):
    """Posteriors, and what is left of a finding that is taken back, are pgmpy's."""
    network = shipped_with_pgmpy(name)
    codes = drawn_cases(network, 1, 0.2, rng)
    case, tree = one_case(network, codes, 0), compile_tree(network)
    engine = VariableElimination(discrete_in_pgmpy(network))
    found = posteriors(tree, seen(network, codes)).by_name
    for variable in [n for n in network.by_name if n not in case][:12]:
        theirs = engine.query([variable], evidence=case, show_progress=False)
        assert found[variable][0] == pytest.approx(theirs.values, abs=1e-9)
    back = retracted(tree, seen(network, codes)).by_name
    for variable in list(case)[:4]:
        others = {name: state for name, state in case.items() if name != variable}
        theirs = engine.query([variable], evidence=others, show_progress=False)
        assert back[variable][0] == pytest.approx(theirs.values, abs=1e-9)


def test_pairs_of_causes_and_tests():
    """Causes with outcomes on win95pts, given a complaint: pyAgrum's joint posteriors, in the fewer passes."""
    network = shipped_with_pgmpy("win95pts")
    causes = [f.name for f in network.families if not f.parents][:8]
    tests = ["PrtStatMem", "PrtStatOff", "PrtIcon", "PrtFile"]
    found = joints(compile_tree(network), Seen.of(network, [{"Problem1": "No_Output"}]), causes, tests)
    assert found.cases == 8
    bayes = discrete_in_pyagrum(network)
    engine = pyagrum.LazyPropagation(bayes)
    for cause, test in ((causes[2], "PrtStatOff"), (causes[0], "PrtIcon"), (causes[5], "PrtFile")):
        engine.addJointTarget({cause, test})
        engine.setEvidence({"Problem1": network.by_name["Problem1"].states.index("No_Output")})
        engine.makeInference()
        theirs = engine.jointPosterior({cause, test})
        array = theirs.toarray()
        expected = array if theirs.names[-1] == cause else array.T
        assert found.of(cause, test) == pytest.approx(expected, abs=1e-12)
