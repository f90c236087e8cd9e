"""What findings share, against sums written out."""

from dataclasses import replace

import numpy as np
import pytest
from oracles_network import shared_likelihood
from shipped_models import drawn, random_findings, small_model, usual_prior

from advisor.network.engine import Evidence, posterior
from advisor.network.findings import OutcomeFinding, ReadingFinding
from advisor.network.shared import Shared, Turned, classes, together

CIRCUITS = drawn("shared")


def drawn(seed, hypotheses=7, states=4):
    """Random findings in three places, one without a say of the state, and a prior of the states.

    Places a and b are cavities of one connector that may be mirrored, with findings to which that is all the same.
    """
    rng = np.random.default_rng(seed)
    sides = np.random.default_rng(seed + 1000)
    findings = []
    for place in ("a", "a", "b", "c", "b"):
        rows = int(rng.integers(1, 5))
        table = rng.uniform(0.01, 1.0, (rows, 1 if place == "c" else states))
        row = rng.integers(rows, size=hypotheses)
        stray = float(rng.uniform(0.05, 0.6))
        turned = None
        if place != "c" and len(findings) != 1:
            other = sides.uniform(0.01, 1.0, (2, states if findings else 1))
            turned = Turned("X", 0.1, sides.integers(2, size=hypotheses), other)
        lasting = {"a": 0.03, "b": 0.2, "c": 0.0}[place]
        findings.append(Shared(row, table, 0.01 * stray, place, lasting, stray, turned))
    return findings, rng.dirichlet(np.ones(states)), rng.dirichlet(np.ones(hypotheses))


@pytest.mark.parametrize("seed", range(20))
def test_every_state_and_every_slip_written_out(seed):
    """The likelihood is the sum over all states and all choices of slipped places."""
    findings, states, weights = drawn(seed)
    assert together(findings, states, weights).likelihood == pytest.approx(
        shared_likelihood(findings, states), rel=1e-12
    )


@pytest.mark.parametrize("seed", range(20))
def test_states_and_slips_by_bayes(seed):
    """The posterior of a state is what fixing the state gives; so is that of a place's slip, added up."""
    findings, states, weights = drawn(seed)
    found = together(findings, states, weights)
    each = [weights @ shared_likelihood(findings, np.eye(len(states))[g]) * states[g] for g in range(len(states))]
    assert found.states == pytest.approx(np.array(each) / sum(each), rel=1e-12)
    calm = [replace(f, slipped=0.0) for f in findings]
    total, expected = sum(each), {"c": 0.0}
    for place in ("a", "b"):
        lost = [f if f.place != place else replace(f, slipped=0.0, lasting=1.0) for f in findings]
        chance = next(f.lasting for f in findings if f.place == place)
        expected[place] = chance * (weights @ shared_likelihood(lost, states)) / total
    slipped = together(calm, states, weights).slipped
    assert slipped == pytest.approx([expected[f.place] for f in findings], rel=1e-12, abs=1e-15)
    assert together(calm, states, weights).slips == pytest.approx(2 * expected["a"] + 2 * expected["b"], rel=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_the_side_by_bayes(seed):
    """The posterior of a mirrored connector is the share of what findings give where it is surely mirrored."""
    findings, states, weights = drawn(seed)
    sure = [replace(f, turned=replace(f.turned, chance=1.0)) if f.turned else f for f in findings]
    part = 0.1 * (weights @ shared_likelihood(sure, states))
    whole = weights @ shared_likelihood(findings, states)
    assert together(findings, states, weights).mirrored == pytest.approx({"X": part / whole}, rel=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_one_finding_alone(seed):
    """A finding by itself is the sum over its states, its side and its slip."""
    findings, states, _ = drawn(seed)
    for finding in findings:
        assert finding.alone(states) == pytest.approx(shared_likelihood([finding], states), rel=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_slips_of_the_moment_by_bayes(seed):
    """P(slip | findings) of each is the share of the joint probability that its slip alone gives."""
    findings, states, weights = drawn(seed)
    free = [replace(f, slipped=0.01 * f.stray, lasting=0.0, turned=None) for f in findings]
    total = weights @ shared_likelihood(free, states)
    for i, slipped in enumerate(together(free, states, weights).slipped):
        given = Shared(free[i].row, np.full_like(free[i].table, free[i].slipped), 0.0, free[i].place, 0.0, 0.0)
        part = weights @ shared_likelihood([*free[:i], given, *free[i + 1 :]], states)
        moment = [np.minimum(f.slipped / f.table, 1.0) for f in free]
        assert (moment[i] < 1.0).all()
        assert slipped == pytest.approx(part / total, rel=1e-12)


def test_classes_are_the_distinct_rows():
    """Two hypotheses are one class exactly if every finding has them in one row."""
    rng = np.random.default_rng(3)
    rows = [rng.integers(3, size=50) for _ in range(3)]
    class_of, first = classes(rows, 50)
    stacked = np.stack(rows)
    for h in range(50):
        assert (stacked[:, h] == stacked[:, first[class_of[h]]]).all()
    assert len(first) == len(np.unique(stacked, axis=1).T)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_a_hundred_equal_repeats_move_no_odds_past_the_bound(circuit):
    """Repeats rule out a misreading, not a wrong cavity: (1 - l) p + l q over l q is the most that a reading can say.

    Here l is the chance of a slip that lasts, q what it shows, and p the sharpest prediction there is.  The reading
    itself said nearly as much: what repeats can add is the misreading's part, from 1 - (1 - e)(1 - l) down to l.
    """
    model, root = small_model(circuit), usual_prior(circuit)
    chosen = [p for p in model.predicted.values() if p.lasting and p.test.unit == "V"][::7]
    for predicted in chosen:
        finding = ReadingFinding(predicted.test.id, round(float(predicted.value[0]) + 0.4, 2))
        hundred = model.evidence([finding] * 100, root)
        assert len(hundred) == 1
        (many,), (one,) = hundred, model.evidence([finding], root)
        lost = predicted.lasting * many.shared.stray
        most = np.log(((1.0 - predicted.lasting) * many.bound + lost) / lost)
        odds = np.log(many.likelihood[:, None] / many.likelihood[None, ::50])
        assert np.abs(odds).max() <= most + 1e-9
        once = np.log(one.likelihood[:, None] / one.likelihood[None, ::50])
        misread = 1.0 - (1.0 - predicted.tool.slip) / (1.0 - predicted.lasting)
        either = (1.0 - predicted.lasting) * misread + predicted.lasting
        assert np.abs(odds - once).max() <= np.log(either / predicted.lasting / (1.0 - misread)) + 1e-9


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_one_finding_is_the_same_shared_or_not(circuit):
    """A finding that has nobody to share with says what it says alone."""
    model, root = small_model(circuit), usual_prior(circuit)
    for seed in range(10):
        tested = [f for f in random_findings(circuit, seed) if isinstance(f, OutcomeFinding)][:1]
        (evidence,) = model.evidence(tested, root) or [Evidence(np.ones(len(model.worlds.members)), 1.0)]
        together_ = posterior(model.worlds, root, [evidence], model.axis.prior)
        assert together_.weights == pytest.approx(posterior(model.worlds, root, [evidence]).weights, abs=1e-14)
