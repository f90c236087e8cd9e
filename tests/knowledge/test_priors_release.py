"""A release of priors multiplies rates and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from shipped_models import CIRCUITS

import advisor
from advisor.knowledge.prevalence import Vehicle
from advisor.network.worlds import SPECIALS


@pytest.mark.parametrize("circuit", [*CIRCUITS[:2], "engine-runs-hot"])
def test_a_factor_multiplies_the_rate_of_its_cause_alone(circuit: str) -> None:
    """What is computed without priors is shared between the two."""
    model = advisor.load(circuit)
    cause = model.compiled.causes[3]
    before = model.prevalence(Vehicle())
    other = model.with_priors("shop-1", {cause: 4.0})
    after = other.prevalence(Vehicle())
    mine = model.worlds.severity_cause == 3
    np.testing.assert_allclose(after[mine], 4.0 * before[mine], rtol=1e-12)
    np.testing.assert_array_equal(after[~mine], before[~mine])
    assert other.priors == "shop-1"
    assert other.worlds is model.worlds
    single = SPECIALS + int(np.flatnonzero(mine)[0])
    assert other.prior(Vehicle()).weights[single] > 3.0 * model.prior(Vehicle()).weights[single]


def test_a_release_of_another_circuit_is_refused() -> None:
    """So is a factor that is no factor."""
    model = advisor.load(CIRCUITS[0])
    with pytest.raises(KeyError, match="NOWHERE/open"):
        model.with_priors("shop-1", {"NOWHERE/open": 2.0})
    with pytest.raises(ValueError, match="above zero"):
        model.with_priors("shop-1", {model.compiled.causes[0]: 0.0})
