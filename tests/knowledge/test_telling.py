"""That a complaint comes and goes is evidence for what is loose: Bayes' rule by hand."""

from __future__ import annotations

import numpy as np
import pytest
from shipped_models import CIRCUITS

import advisor
from advisor.contract.request import AdviceRequest
from advisor.knowledge.prevalence import Vehicle
from advisor.network.engine import posterior
from advisor.network.findings import SymptomFinding
from advisor.network.worlds import NONE, UNLISTED


def odds(model: advisor.Model, said: SymptomFinding, one: str, other: str) -> float:
    """Odds of the hypotheses that hold one cause alone against those that hold the other alone."""
    root = model.prior(Vehicle())
    belief = posterior(model.worlds, root, model.evidence([said], root), model.axis.prior)
    assert belief is not None
    alone = model.worlds.sizes == 1
    masses = [belief.weights[alone & model.worlds.holds[:, model.worlds.causes.index(c)]].sum() for c in (one, other)]
    return float(masses[0] / masses[1])


@pytest.mark.parametrize(("told", "times"), [(True, (0.1 + 0.8 * 0.4) / 0.1), (False, (0.9 - 0.8 * 0.4) / 0.9)])
def test_a_loose_contact_gains_by_what_customers_tell(told: bool, times: float) -> None:
    """An open contact is loose in two of five, a fuse never; one customer in ten tells it wrongly.

    The odds between them change by the likelihoods' ratio: common practice has no source for either number, the rule
    is Bayes'.
    """
    model = advisor.load("belt-reminder")
    loose = {cause.id: cause.mode.loose for cause in model.wiring.causes}
    contact, fuse = "X31/1/open", "F8/open"
    assert (loose[contact], loose[fuse]) == (0.2, 0.0)
    before = odds(model, SymptomFinding("lamp-stays-dark"), contact, fuse)
    after = odds(model, SymptomFinding("lamp-stays-dark", comes_and_goes=told), contact, fuse)
    assert after / before == pytest.approx(times, rel=1e-9)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_told_or_not_is_all_there_is(circuit: str) -> None:
    """Both answers together weigh as much as none, and of what is not listed either says the same."""
    model = advisor.load(circuit)
    root, symptom = model.prior(Vehicle()), model.worlds.symptoms[0]
    plain, goes, stays = (
        model.evidence([SymptomFinding(symptom, comes_and_goes=told)], root)[0].likelihood
        for told in (None, True, False)
    )
    np.testing.assert_allclose(goes + stays, plain, rtol=1e-12)
    np.testing.assert_allclose(goes[[NONE, UNLISTED]], stays[[NONE, UNLISTED]])


def test_a_table_takes_it_too_and_a_repair_still_proves() -> None:
    """A model that says of no fault how loose it is learns nothing; after a repair the complaint is the same one."""
    hot = advisor.load("engine-runs-hot")
    plain, told = (
        hot.evidence([SymptomFinding("hot-at-speed", comes_and_goes=told)], hot.prior(Vehicle()))[0].likelihood
        for told in (None, True)
    )
    np.testing.assert_array_equal(plain, told)
    repaired = [{"repair": "repair-W104", "result": "gone"}]
    plain, told = (
        advisor.advise(
            advisor.load("belt-reminder"),
            {"circuit": "belt-reminder", "findings": [{"symptom": "lamp-stays-on", **more}, *repaired], "depth": 1},
        )
        for more in ({}, {"comes_and_goes": False})
    )
    assert plain.next.kind == told.next.kind == "no_fault"


def test_what_is_absent_has_no_habit() -> None:
    """The request is refused."""
    with pytest.raises(ValueError, match="neither comes and goes"):
        AdviceRequest.model_validate(
            {"circuit": "x", "findings": [{"symptom": "s", "present": False, "comes_and_goes": True}]}
        )
