"""Sums over groups of hypotheses, and the table of causes given one more outcome, against plain loops."""

import numpy as np
import pytest
from shipped_models import TABLES, drawn, random_findings, small_model, usual_prior

from advisor.network.engine import posterior
from advisor.network.tables import Groups, by_cause, cause_tables

MODELS = (*drawn("tables"), *TABLES)


@pytest.mark.parametrize("circuit", MODELS)
@pytest.mark.parametrize("seed", range(5))
def test_table_is_what_one_more_finding_gives(circuit, seed):
    """Each column is the share of every cause after the outcome is taken as one more finding."""
    model = small_model(circuit)
    belief = posterior(
        model.worlds, usual_prior(circuit), model.evidence(random_findings(circuit, seed), usual_prior(circuit))
    )
    table, probability = cause_tables(model.worlds, by_cause(model.worlds), belief.weights)
    for column in range(0, len(probability), 17):
        joint = belief.weights * model.worlds.likelihood[:, column]
        assert probability[column] == pytest.approx(joint.sum(), rel=1e-12)
        assert table[:, column] == pytest.approx((joint / joint.sum()) @ model.worlds.holds, rel=1e-6, abs=1e-9)


def test_groups_from_labels_and_from_a_table(rng):
    """Both ways of writing groups down give the sums that a dense product gives."""
    inside = rng.random((4, 9)) < 0.4
    table, weights = rng.random((9, 3)), rng.random(9)
    assert Groups.where(inside).sums(table) == pytest.approx(inside @ table, rel=1e-14)
    labels = rng.integers(-1, 4, (9, 1))
    dense = np.arange(4)[:, None] == labels.T
    assert Groups.of(labels, 4).sums(table, weights) == pytest.approx((dense * weights) @ table, rel=1e-14)
