"""Every shipped circuit under every law that its network keeps, whatever its files say."""

from collections.abc import Callable

import numpy as np
import pytest
from shipped_models import TABLES, drawn, random_findings, small_model, usual_prior

from advisor.decision.advice import Costs
from advisor.decision.bench import Bench
from advisor.network.engine import Evidence, posterior
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS

MODELS = (*drawn("laws"), *TABLES)

CASES = range(8)
LAWS: dict[str, Callable[[str], None]] = {}


def law(function):
    """Put a function among the laws under its name."""
    LAWS[function.__name__.replace("_", "-")] = function
    return function


def belief_of(circuit, seed):
    """What random findings leave of a circuit's hypotheses."""
    model, root = small_model(circuit), usual_prior(circuit)
    return posterior(model.worlds, root, model.evidence(random_findings(circuit, seed), root), model.axis.prior)


@law
def outcomes_of_a_test_sum_to_one(circuit):
    """Under every hypothesis, each test comes out in exactly one of its outcomes."""
    worlds = small_model(circuit).worlds
    for columns in worlds.columns:
        assert worlds.likelihood[:, columns].sum(axis=1) == pytest.approx(1.0, abs=1e-12)
    assert (worlds.likelihood >= 0.0).all()


@law
def prior_and_omitted_mass_sum_to_one(circuit):
    """Every fault set is either enumerated or counted as omitted, also with each cause."""
    model, root = small_model(circuit), usual_prior(circuit)
    assert root.weights.sum() + root.omitted == pytest.approx(1.0, abs=1e-12)
    assert (root.weights > 0.0).all()
    assert root.omitted >= 0.0
    assert (root.omitted_with >= 0.0).all()
    assert (root.omitted_with <= root.omitted * (1.0 + 1e-9)).all()
    # Each omitted set holds two causes at least.
    assert root.omitted_with.sum() >= 2.0 * root.omitted * (1.0 - 1e-9)
    assert len(root.omitted_with) == len(model.worlds.causes)


@law
def order_of_findings_never_matters(circuit):
    """Findings in another order leave the same beliefs, bounds and conflict."""
    model, root = small_model(circuit), usual_prior(circuit)
    for seed in CASES:
        evidence = model.evidence(random_findings(circuit, seed), root)
        shuffled = [evidence[i] for i in np.random.default_rng(seed).permutation(len(evidence))]
        one, other = (posterior(model.worlds, root, each, model.axis.prior) for each in (evidence, shuffled))
        assert other.weights == pytest.approx(one.weights, abs=1e-13)
        assert other.high == pytest.approx(one.high, abs=1e-13)
        assert other.conflict_decibans == pytest.approx(one.conflict_decibans, abs=1e-9)


@law
def predicted_outcomes_sum_to_one(circuit):
    """Whatever was found, the predicted outcomes of every test sum to 1."""
    worlds = small_model(circuit).worlds
    for seed in CASES:
        weights = belief_of(circuit, seed).weights
        assert weights.sum() == pytest.approx(1.0, abs=1e-12)
        for columns in worlds.columns:
            assert (weights @ worlds.likelihood[:, columns]).sum() == pytest.approx(1.0, abs=1e-12)


@law
def beliefs_after_a_test_average_to_those_before(circuit):
    """Beliefs after each outcome, weighted by its probability, are the beliefs before: total probability."""
    model, root = small_model(circuit), usual_prior(circuit)
    for seed in CASES:
        evidence = model.evidence(random_findings(circuit, seed), root)
        before = posterior(model.worlds, root, evidence, model.axis.prior)
        for columns in model.worlds.columns[:: len(model.worlds.columns) // 8 + 1]:
            expected = np.zeros_like(before.weights)
            for row in model.worlds.likelihood[:, columns].T:
                after = posterior(model.worlds, root, [*evidence, Evidence(row, 1.0)], model.axis.prior)
                if after is not None:
                    expected += after.weights * (before.weights @ row)
            assert expected == pytest.approx(before.weights, abs=1e-12)


@law
def bounds_hold_the_share(circuit):
    """A cause's share lies between its truncation bounds, which lie between 0 and 1."""
    worlds = small_model(circuit).worlds
    for seed in CASES:
        belief = belief_of(circuit, seed)
        share = belief.weights @ worlds.holds
        assert (belief.low <= share + 1e-12).all()
        assert (share <= belief.high + 1e-12).all()
        assert belief.low.min() >= 0.0
        assert belief.high.max() <= 1.0 + 1e-12


@law
def a_cause_less_is_a_hypothesis_too(circuit):
    """Each fault of any hypothesis is a hypothesis alone, in every severity; `choose` keeps a triple's pairs."""
    worlds = small_model(circuit).worlds
    rows = [
        frozenset((int(c), int(v)) for c, (a, b) in zip(causes, ranges, strict=True) if c >= 0 for v in range(a, b))
        for causes, ranges in zip(worlds.members, worlds.severities, strict=True)
    ]
    singles = {only for row in rows if len(row) == 1 for only in row}
    assert set().union(*rows) == singles
    assert {cause for cause, _ in singles} == set(range(len(worlds.causes)))


@law
def a_part_has_one_mode_at_a_time(circuit):
    """No hypothesis holds two causes of a part, none is there twice."""
    worlds = small_model(circuit).worlds
    for causes in worlds.members:
        parts = [int(worlds.cause_part[c]) for c in causes if c >= 0]
        assert len(parts) == len(set(parts))
    keys = [(tuple(c), tuple(map(tuple, s))) for c, s in zip(worlds.members, worlds.severities, strict=True)]
    assert len(keys[SPECIALS:]) == len(set(keys[SPECIALS:]))


@law
def information_is_never_worth_less_than_nothing(circuit):
    """With one fault at a time, cured by one repair each, looking at a test's outcome before repairing never costs.

    This holds where probability over cost is the optimal order: single faults, no repair that shares a cause with
    another, no chance that nothing is wrong.  Beyond it the cost is an upper bound and may be wrong by a little.
    """
    model = small_model(circuit)
    bench = Bench(model, frozenset(), Costs(), model.worlds)
    assert (bench.ground.restores.cures.sum(axis=0) <= 1).all()
    single = (model.worlds.members >= 0).sum(axis=1) <= 1
    single[[NONE, AS_DESIGNED]] = False
    for seed in CASES:
        weights = np.where(single, belief_of(circuit, seed).weights, 0.0)
        now = bench.expected(weights, frozenset()).cost[0]
        masses = bench.ground.groups.sums(model.worlds.likelihood, weights)
        after = bench.expected_of(masses, bench.prices(frozenset())).cost
        for columns in model.worlds.columns:
            assert now - after[columns].sum() >= -1e-9 * now


@pytest.mark.parametrize(
    ("circuit", "name"),
    [pytest.param(circuit, name, id=f"{circuit}:{name}") for circuit in MODELS for name in LAWS],
)
def test_law(circuit, name):
    """A shipped circuit keeps a law; the law's own sentence stands at its function."""
    LAWS[name](circuit)
