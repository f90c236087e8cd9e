"""A release of priors multiplies rates and nothing else, unless it says something of minutes and slips."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shipped_models import CIRCUITS

import advisor
from advisor.knowledge.learned import Learned
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import posterior
from advisor.network.findings import OutcomeFinding, SymptomFinding
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


def other_instruments(model: Model, slips: dict[str, float]) -> Model:
    """The same circuit whose library has these slips, nothing shared with the shipped one."""
    library = model.schematic.library
    tools = {id: replace(tool, slip=slips.get(id, tool.slip)) for id, tool in library.instruments.items()}
    schematic = replace(model.schematic, library=replace(library, instruments=tools))
    return Model(schematic, model.wiring, model.compiled, model.knowledge)


@pytest.mark.parametrize("circuit", CIRCUITS[:2])
def test_slips_of_a_release_are_those_of_a_library_with_them(circuit: str) -> None:
    """Every outcome's chance, and what findings of all kinds leave together, at one place and at others."""
    model, slips = advisor.load(circuit), {"voltmeter": 0.11, "eye": 0.2}
    released, twin = model.with_priors("shop-1", {}, Learned(slips=slips)), other_instruments(model, slips)
    assert released.worlds is not model.worlds
    np.testing.assert_allclose(released.worlds.likelihood, twin.worlds.likelihood, rtol=1e-12)
    assert np.abs(released.worlds.likelihood - model.worlds.likelihood).max() > 0.02
    read = [test for test in model.tests.values() if test.instrument in {"voltmeter", "eye", "ohmmeter"}]
    told = [OutcomeFinding(test.id, test.outcomes[0].id) for test in read[:: max(len(read) // 4, 1)]]
    found = []
    for each in (released, twin, model):
        root = each.prior(Vehicle())
        evidence = each.evidence([SymptomFinding(model.worlds.symptoms[0]), *told], root)
        belief = posterior(each.worlds, root, evidence, each.axis.prior)
        assert belief is not None
        found.append(belief)
    np.testing.assert_allclose(found[0].weights, found[1].weights, rtol=1e-9, atol=1e-15)
    assert found[0].slips == pytest.approx(found[1].slips) and abs(found[0].slips - found[2].slips) > 0.01


def test_slips_are_mixed_anew_only_where_they_differ() -> None:
    """A release of rates upon one with slips shares what readings say with it; a slip is a chance."""
    model = advisor.load(CIRCUITS[0])
    first = model.with_priors("shop-1", {}, Learned(slips={"eye": 0.2}))
    assert first.predicted and first.with_priors("worked", {}).predicted is first.predicted
    assert model.with_priors("shop-1", {}, Learned(slips={"eye": 0.2})) is first
    assert model.worlds is model.with_priors("shop-2", {}).worlds
    with pytest.raises(ValueError, match="slip"):
        Learned(slips={"eye": 1.0})
