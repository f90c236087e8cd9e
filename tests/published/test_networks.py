"""Published networks, written as fault sets and answered by the engine.

Numbers computed from the published parameters by full enumeration; each test names the publication.
"""

import numpy as np
import pytest
from tables import complete_prior, fault_sets, seen, table_worlds

from advisor.network.engine import posterior


def present(causes):
    """One mode, present, for each name."""
    return {cause: ["present"] for cause in causes}


def on(faults, cause):
    """Whether a named cause is present."""
    return f"{cause}/present" in faults


def binary(probability):
    """A test that comes out yes with the probability that a function gives."""
    return ("yes", "no"), lambda faults: (probability(faults), 1.0 - probability(faults))


def chance(p, holds):
    """Probability of a thing being as it is, when it is there with probability p."""
    return p if holds else 1.0 - p


def marginals(worlds, root, *findings):
    """Posterior of every cause by name, and the whole answer."""
    belief = posterior(worlds, root, [seen(worlds, *finding) for finding in findings])
    return {c.partition("/")[0]: p for c, p in zip(worlds.causes, belief.weights @ worlds.holds, strict=True)}, belief


@pytest.fixture(scope="module")
def burglary():
    """Alarm network of J. Pearl, in S. Russell, P. Norvig, "Artificial Intelligence: A Modern Approach", fig. 14.2."""

    def alarm(faults):
        return {(0, 0): 0.001, (0, 1): 0.29, (1, 0): 0.94, (1, 1): 0.95}[on(faults, "burglary"), on(faults, "quake")]

    def weight(faults):
        roots = chance(0.001, on(faults, "burglary")) * chance(0.002, on(faults, "quake"))
        return roots * chance(alarm(faults), on(faults, "alarm"))

    tests = {
        "john": binary(lambda faults: 0.9 if on(faults, "alarm") else 0.05),
        "mary": binary(lambda faults: 0.7 if on(faults, "alarm") else 0.01),
    }
    worlds = table_worlds(present(["burglary", "quake", "alarm"]), tests)
    return worlds, complete_prior(worlds, weight)


def test_burglary(burglary):
    """Both neighbours call: P(burglary) = .2842 as printed, and the alarm and the earthquake with it."""
    shares, _ = marginals(*burglary, ("john", "yes"), ("mary", "yes"))
    assert shares["burglary"] == pytest.approx(0.284171835364393, abs=1e-14)
    assert shares["quake"] == pytest.approx(0.17606683840507917, abs=1e-14)
    assert shares["alarm"] == pytest.approx(0.7606920388631079, abs=1e-13)
    assert marginals(*burglary)[0]["alarm"] == pytest.approx(0.002516442, abs=1e-14)


@pytest.fixture(scope="module")
def sprinkler():
    """Wet grass network of K. Murphy, in Russell and Norvig, fig. 14.12."""

    def weight(faults):
        cloudy = on(faults, "cloudy")
        sprinkler = chance(0.1 if cloudy else 0.5, on(faults, "sprinkler"))
        return 0.5 * sprinkler * chance(0.8 if cloudy else 0.2, on(faults, "rain"))

    def wet(faults):
        return [0.0, 0.9, 0.99][on(faults, "sprinkler") + on(faults, "rain")]

    tests = {name: binary(lambda faults, name=name: float(on(faults, name))) for name in ("sprinkler", "rain")}
    worlds = table_worlds(present(["cloudy", "sprinkler", "rain"]), {"wet": binary(wet)} | tests)
    return worlds, complete_prior(worlds, weight)


@pytest.mark.parametrize(
    ("asked", "findings", "expected"),
    [
        ("sprinkler", ["wet"], 0.4297635605),
        ("rain", ["wet"], 0.7079276773),
        ("sprinkler", ["wet", "rain"], 0.1944990177),
        ("rain", ["sprinkler"], 0.3),
        ("rain", ["sprinkler", "wet"], 0.3203883495),
    ],
)
def test_sprinkler(sprinkler, asked, findings, expected):
    """Wet grass blames the sprinkler less once it is known to have rained."""
    shares, _ = marginals(*sprinkler, *((name, "yes") for name in findings))
    assert shares[asked] == pytest.approx(expected, abs=1e-10)


def test_wet_grass(sprinkler):
    """P(wet) = .6471."""
    assert marginals(*sprinkler, ("wet", "yes"))[1].evidence == pytest.approx(0.6471, abs=1e-14)


@pytest.fixture(scope="module")
def car_start():
    """Car start problem of F. Jensen, T. Nielsen, "Bayesian Networks and Decision Graphs" (parameters from memory)."""

    def gauge(faults):
        return (0.998, 0.001, 0.001) if on(faults, "no-fuel") else (0.01, 0.60, 0.39)

    def starts(faults):
        return 0.0 if on(faults, "no-fuel") else 0.01 if on(faults, "dirty") else 0.99

    worlds = table_worlds(
        present(["no-fuel", "dirty"]), {"gauge": (("empty", "half", "full"), gauge), "start": binary(starts)}
    )
    return worlds, complete_prior(
        worlds, lambda faults: chance(0.02, on(faults, "no-fuel")) * chance(0.04, on(faults, "dirty"))
    )


@pytest.mark.parametrize(
    ("gauge", "no_fuel", "dirty"),
    [
        (None, 0.2931863492, 0.580626246),
        ("half", 0.0006908558, 0.8043496283),
        ("empty", 0.9764134514, 0.0580408333),
        ("full", 0.0010624599, 0.8040653965),
    ],
)
def test_car_start(car_start, gauge, no_fuel, dirty):
    """A car that does not start, with each reading of the fuel gauge."""
    findings = [("start", "no"), *([("gauge", gauge)] if gauge else [])]
    shares, belief = marginals(*car_start, *findings)
    assert (shares["no-fuel"], shares["dirty"]) == pytest.approx((no_fuel, dirty), abs=1e-9)
    assert gauge or belief.evidence == pytest.approx(0.068216, abs=1e-14)


@pytest.mark.parametrize(("gauge", "nats"), [("half", 0.3261284364), ("empty", -2.3095103625)])
def test_conflict(car_start, gauge, nats):
    """F. Jensen, B. Chamberlain, T. Nordahl, F. Jensen 1991: fuel on the gauge conflicts, an empty gauge supports."""
    _, belief = marginals(*car_start, ("start", "no"), ("gauge", gauge))
    assert belief.conflict_decibans == pytest.approx(nats * 10.0 / np.log(10.0), abs=1e-8)
    assert gauge != "half" or belief.evidence == pytest.approx(0.0289496, abs=1e-14)


def test_one_finding_has_no_conflict(car_start):
    """A single finding cannot contradict another."""
    assert marginals(*car_start, ("start", "no"))[1].conflict_decibans is None


def test_quickscore():
    """Noisy-or of D. Heckerman, "A tractable inference algorithm for diagnosing multiple diseases", 1989."""
    prior = {"d1": 0.1, "d2": 0.05, "d3": 0.02}
    fails = {"f1": (0.8, 0.3, 0.0), "f2": (0.0, 0.6, 0.9), "f3": (0.5, 0.5, 0.5)}

    def noisy_or(q):
        return binary(lambda faults: 1.0 - np.prod([1.0 - x for d, x in zip(prior, q, strict=True) if on(faults, d)]))

    worlds = table_worlds(present(prior), {name: noisy_or(q) for name, q in fails.items()})
    root = complete_prior(worlds, lambda faults: np.prod([chance(p, on(faults, d)) for d, p in prior.items()]))
    shares, belief = marginals(worlds, root, ("f1", "yes"), ("f2", "yes"), ("f3", "no"))
    assert belief.evidence == pytest.approx(0.00501822, abs=1e-12)
    assert list(shares.values()) == pytest.approx(
        [0.19616915958248138, 0.9318483446321604, 0.0831211066872317], abs=1e-12
    )


@pytest.mark.parametrize(
    ("p", "faulty", "bits"),
    [
        ((0.01, 0.01, 0.01, 0.01), (0.253781, 0.253781, 0.253781, 0.253781), (0.811298, 1.0, 0.811298)),
        ((0.025, 0.01, 0.01, 0.01), (0.463319, 0.185328, 0.185328, 0.185328), (0.994518, 0.944653, 0.682724)),
        ((0.05, 0.01, 0.01, 0.01), (0.639256, 0.127851, 0.127851, 0.127851), (0.950854, 0.806255, 0.539187)),
    ],
)
def test_four_inverters(p, faulty, bits):
    """J. de Kleer, B. Williams, "Diagnosing multiple faults", 1987: four inverters, in 0, out 1.

    A bad inverter gives either level by a fair coin, which makes it two modes of half the probability.
    """
    modes = {name: ["low", "high"] for name in "abcd"}

    def levels(faults):
        result, level = {}, False
        for name in modes:
            level = not level if not {f"{name}/low", f"{name}/high"} & faults else f"{name}/high" in faults
            result[name] = level
        return result

    def weight(faults):
        bad = {fault.partition("/")[0] for fault in faults}
        return np.prod([x / 2.0 if name in bad else 1.0 - x for name, x in zip(modes, p, strict=True)])

    tests = {name: binary(lambda faults, name=name: float(levels(faults)[name])) for name in modes}
    worlds = table_worlds(modes, tests, fault_sets(modes))
    belief = posterior(worlds, complete_prior(worlds, weight), [seen(worlds, "d", "yes")])
    assert (belief.weights @ worlds.holds).reshape(4, 2).sum(axis=1) == pytest.approx(faulty, abs=1e-6)
    high = [belief.weights @ seen(worlds, name, "yes").likelihood for name in "abc"]
    assert [-sum(x * np.log2(x) for x in (y, 1.0 - y)) for y in high] == pytest.approx(bits, abs=1e-6)


def test_what_cannot_be(car_start):
    """A car that started without fuel has probability zero: no answer rather than a wrong one."""
    worlds, root = car_start
    no_fuel = np.array([any(worlds.causes[c] == "no-fuel/present" for c in row if c >= 0) for row in worlds.members])
    only = type(root)(np.where(no_fuel, root.weights, 0.0), 0.0, root.omitted_with)
    assert posterior(worlds, only, [seen(worlds, "start", "yes")]) is None
