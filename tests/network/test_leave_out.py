"""Weights of evidence against their definition, their laws and sums by hand."""

import numpy as np
import pytest
from oracles_network import shared_likelihood
from oracles_network import weights_of_evidence as by_definition
from shipped_models import drawn, random_findings, small_model, usual_prior
from tables import complete_prior, table_worlds

from advisor.network.engine import Evidence, posterior
from advisor.network.leave_out import weights_of_evidence
from advisor.network.shared import Shared

CIRCUITS = drawn("leave out")

TWO_PARTS = {"lamp": ("open", "weak"), "wire": ("open",)}
SHARE = {"lamp/open": 0.1, "lamp/weak": 0.2, "wire/open": 0.25}


def two_parts():
    """Worlds of two parts, six fault sets in all, and their prior."""
    worlds = table_worlds(TWO_PARTS, {})
    return worlds, complete_prior(worlds, lambda faults: np.prod([SHARE[f] for f in faults]) * 0.5)


def one_cause(share):
    """One cause of a given share against none."""
    worlds = table_worlds({"lamp": ("open",)}, {})
    return worlds, complete_prior(worlds, lambda faults: share if faults else 1.0 - share)


def against_none(cause, none):
    """A finding by its probability with and without the one cause."""
    return Evidence(np.array([none, none, none, cause]), 1.0)


@pytest.mark.parametrize("seed", range(20))
def test_independent_findings_by_definition(seed, rng):
    """Findings that share nothing weigh what the ratio of their probabilities says."""
    worlds, root = two_parts()
    rows = np.random.default_rng(seed).uniform(0.01, 1.0, (4, len(root.weights)))
    found = weights_of_evidence(worlds, root, [Evidence(row, 1.0) for row in rows], None, range(3))
    for cause in range(3):
        twin = by_definition(
            root.weights, worlds.holds[:, cause], lambda chosen: np.prod(rows[chosen], axis=0), len(rows)
        )
        assert found.in_turn[:, cause] == pytest.approx(twin[0], abs=1e-9)
        assert found.left_out[:, cause] == pytest.approx(twin[1], abs=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_findings_that_share_states_by_definition(seed):
    """So do those that share the state of the case and the slips of a place."""
    worlds, root = two_parts()
    rng = np.random.default_rng(seed)
    states = rng.dirichlet(np.ones(3))
    shared = [
        Shared(rng.integers(4, size=len(root.weights)), rng.uniform(0.01, 1.0, (4, 3)), 0.0, place, 0.1, 0.2)
        for place in "aabc"
    ]
    found = weights_of_evidence(
        worlds, root, [Evidence(f.alone(states), 1.0, 0.0, f) for f in shared], states, range(3)
    )

    def joint_of(chosen):
        """The findings' joint probability under each hypothesis."""
        return shared_likelihood([shared[i] for i in chosen], states) if chosen else np.ones(len(root.weights))

    for cause in range(3):
        twin = by_definition(root.weights, worlds.holds[:, cause], joint_of, len(shared))
        assert found.in_turn[:, cause] == pytest.approx(twin[0], abs=1e-9)
        assert found.left_out[:, cause] == pytest.approx(twin[1], abs=1e-9)


def test_two_findings_by_hand():
    """Probabilities 0.9 to 0.1, then 0.25 to 0.5: 10 log10 of 9 is 9.542 for, of a half is 3.010 against."""
    worlds, root = one_cause(0.2)
    found = weights_of_evidence(worlds, root, [against_none(0.9, 0.1), against_none(0.25, 0.5)], None, [0])
    assert found.in_turn[:, 0] == pytest.approx([9.5424, -3.0103], abs=1e-4)
    assert found.left_out == pytest.approx(found.in_turn, abs=1e-12)


def test_two_findings_of_one_state_by_hand():
    """Twice 0.9 in one state and 0.1 in the other, each as likely, against 0.1: the second confirms the state too.

    P(first | cause) = 0.5; P(both | cause) = (0.81 + 0.01) / 2 = 0.41, against 0.1 and 0.01: 10 log10 of 5 is 6.990, of
    0.82 / 0.1 is 9.138, of both together, 41, is 16.128.
    """
    worlds, root = one_cause(0.2)
    states, table = np.array([0.5, 0.5]), np.array([[0.1, 0.1], [0.9, 0.1]])
    each = [Shared(np.array([0, 0, 0, 1]), table, 0.0, place, 0.0, 0.0) for place in "ab"]
    found = weights_of_evidence(worlds, root, [Evidence(f.alone(states), 1.0, 0.0, f) for f in each], states, [0])
    assert found.in_turn[:, 0] == pytest.approx([6.9897, 9.1381], abs=1e-4)
    assert found.left_out[:, 0] == pytest.approx([9.1381, 9.1381], abs=1e-4)
    assert found.in_turn.sum() == pytest.approx(16.1278, abs=1e-4)


@pytest.mark.parametrize("circuit", CIRCUITS)
@pytest.mark.parametrize("seed", range(3))
def test_weights_in_turn_add_up_to_the_change_of_the_odds(circuit, seed):
    """From before the first finding to after the last the log odds change by the sum of the weights."""
    model, root = small_model(circuit), usual_prior(circuit)
    evidence = model.evidence(random_findings(circuit, seed), root)
    after = posterior(model.worlds, root, evidence, model.axis.prior)
    causes = np.argsort(-model.worlds.with_cause(after.weights))[:5]
    found = weights_of_evidence(model.worlds, root, evidence, model.axis.prior, causes)
    for column, cause in enumerate(causes):
        held = model.worlds.holds[:, cause]
        odds = [w[held].sum() / w[~held].sum() for w in (root.weights, after.weights)]
        assert found.in_turn[:, column].sum() == pytest.approx(10.0 * np.log10(odds[1] / odds[0]), abs=1e-6)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_surprise_is_what_the_conflict_falls_by(circuit):
    """The surprise of a finding is the engine's conflict with it less that without it."""
    model, root = small_model(circuit), usual_prior(circuit)
    evidence = model.evidence(random_findings(circuit, 11), root)
    evidence += model.evidence(random_findings(circuit, 12), root)
    found = weights_of_evidence(model.worlds, root, evidence, model.axis.prior, [0])
    whole = posterior(model.worlds, root, evidence, model.axis.prior)
    for i, surprise in enumerate(found.surprise):
        rest = posterior(model.worlds, root, [*evidence[:i], *evidence[i + 1 :]], model.axis.prior)
        assert surprise == pytest.approx(whole.conflict_decibans - rest.conflict_decibans, abs=1e-6)


def test_the_odd_finding_contradicts_the_others():
    """Of two findings for the cause and one against it the lonely one is odd; of two alike, the likelier slip."""
    worlds, root = one_cause(0.5)
    speaking = [against_none(0.9, 0.01), against_none(0.8, 0.05)]
    assert weights_of_evidence(worlds, root, [speaking[0], against_none(0.01, 0.9), speaking[1]], None, [0]).odd == 1
    assert weights_of_evidence(worlds, root, speaking, None, [0]).odd is None
    two = [
        Evidence(np.array([0.01, 0.01, 0.01, 0.9]), 1.0, 0.001),
        Evidence(np.array([0.9, 0.9, 0.9, 0.01]), 1.0, 0.009),
    ]
    assert weights_of_evidence(worlds, root, two, None, [0]).odd == 1


def test_odds_without_end_have_no_weight():
    """A finding that the cause cannot give ends its odds: no number says by how much; what is before it stays."""
    worlds, root = one_cause(0.2)
    found = weights_of_evidence(worlds, root, [against_none(0.9, 0.1), against_none(0.0, 0.5)], None, [0])
    assert found.in_turn[0, 0] == pytest.approx(9.5424, abs=1e-4)
    assert np.isnan([found.in_turn[1, 0], *found.left_out[:, 0]]).all()


def test_impossible_findings_weigh_nothing():
    """Findings of probability zero leave no odds at all; no findings leave no weights."""
    worlds, root = one_cause(0.2)
    assert weights_of_evidence(worlds, root, [against_none(0.0, 0.0)], None, [0]) is None
    assert weights_of_evidence(worlds, root, [], None, [0]).in_turn.shape == (0, 1)
