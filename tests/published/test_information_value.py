"""Worth of information, answered from the engine's posteriors.

The oil wildcatter: H. Raiffa, "Decision Analysis", 1968; its table of chances as in a maker's manual of a decision
tree procedure.  The decision threshold: numbers by full enumeration after S. Chen, A. Choi, A. Darwiche, "Algorithms
and applications for the same-decision probability", 2014.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from tables import complete_prior, seen, table_worlds

from advisor.network.engine import posterior
from advisor.network.worlds import NONE, SPECIALS

DRY, WET, SOAKING = 0.5, 0.3, 0.2
PAY_OFF = np.array([-70.0, 50.0, 200.0])
SOUNDING = {"none": (0.6, 0.3, 0.1), "open": (0.3, 0.4, 0.4), "closed": (0.1, 0.3, 0.5)}
TEST_COST = 10.0


def oil():
    """A well is dry, wet or soaking: one part with two modes; dry is the hypothesis that holds none."""

    def sounds(faults):
        state = 0 if not faults else 1 + int("oil/soaking" in faults)
        return [row[state] for row in SOUNDING.values()]

    worlds = table_worlds({"oil": ["wet", "soaking"]}, {"sounding": (tuple(SOUNDING), sounds)})
    weight = {frozenset(): DRY, frozenset({"oil/wet"}): WET, frozenset({"oil/soaking"}): SOAKING}
    return worlds, complete_prior(worlds, weight.__getitem__)


def states(weights):
    """P(dry, wet, soaking)."""
    return weights[[NONE, SPECIALS, SPECIALS + 1]]


@pytest.mark.parametrize(
    ("outcome", "chance", "after", "drilling"),
    [
        ("none", 0.41, (0.73171, 0.21951, 0.04878), -30.48780488),
        ("open", 0.35, (0.42857, 0.34286, 0.22857), 32.85714286),
        ("closed", 0.24, (0.20833, 0.37500, 0.41667), 87.5),
    ],
)
def test_after_a_sounding(outcome, chance, after, drilling):
    """Chance of each sounding, what it leaves, and what drilling is then worth."""
    worlds, root = oil()
    belief = posterior(worlds, root, [seen(worlds, "sounding", outcome)])
    assert belief.evidence == pytest.approx(chance, abs=1e-12)
    assert states(belief.weights) == pytest.approx(after, abs=5e-6)
    assert states(belief.weights) @ PAY_OFF == pytest.approx(drilling, abs=1e-8)


def test_worth_of_the_sounding():
    """Drilling blind earns 20; with the sounding 32.5, so it is worth 12.5, net 2.5; perfect information 35."""
    worlds, root = oil()
    blind = max(float(states(root.weights) @ PAY_OFF), 0.0)
    beliefs = [posterior(worlds, root, [seen(worlds, "sounding", outcome)]) for outcome in SOUNDING]
    gross = sum(b.evidence * max(float(states(b.weights) @ PAY_OFF), 0.0) for b in beliefs)
    perfect = float(states(root.weights) @ np.maximum(PAY_OFF, 0.0))
    assert blind == pytest.approx(20.0, abs=1e-12)
    assert gross == pytest.approx(32.5, abs=1e-12)
    assert gross - TEST_COST == pytest.approx(22.5, abs=1e-12)
    assert gross - blind == pytest.approx(12.5, abs=1e-12)
    assert gross - blind - TEST_COST == pytest.approx(2.5, abs=1e-12)
    assert perfect - blind == pytest.approx(35.0, abs=1e-12)


@pytest.mark.parametrize(
    ("chosen", "same"),
    [
        (("t1",), 0.59),
        (("t2",), 1.0),
        (("t3",), 0.69),
        (("t1", "t2"), 0.755),
        (("t1", "t3"), 0.77),
        (("t2", "t3"), 0.69),
        (("t1", "t2", "t3"), 0.77),
    ],
)
def test_same_decision(chosen, same):
    """P(the decision at .5 stays as it is once some tests are known); a test that cannot change it has 1."""
    chances = {"t1": (0.9, 0.2), "t2": (0.7, 0.4), "t3": (0.8, 0.1)}

    def showing(name):
        return ("+", "-"), lambda faults: (chances[name][not faults], 1.0 - chances[name][not faults])

    worlds = table_worlds({"d": ["there"]}, {name: showing(name) for name in chances})
    root = complete_prior(worlds, lambda faults: 0.3 if faults else 0.7)
    stays = 0.0
    for outcomes in product("+-", repeat=len(chosen)):
        belief = posterior(worlds, root, [seen(worlds, *pair) for pair in zip(chosen, outcomes, strict=True)])
        stays += belief.evidence * (belief.weights[SPECIALS] < 0.5)
    assert stays == pytest.approx(same, abs=1e-12)
