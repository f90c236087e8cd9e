"""Finding one's bearings at a connector: what tells the sides apart, and when that is said."""

from __future__ import annotations

import numpy as np
import pytest
from shipped_models import small_model, usual_prior

from advisor.decision.advise import decide
from advisor.decision.bearings import LEAST_BITS, bearings_at, bearings_for
from advisor.network.engine import posterior
from advisor.network.findings import ReadingFinding, SymptomFinding
from advisor.network.worlds import NONE


@pytest.fixture(scope="module")
def model():
    """The reversing lamps: mirrored, cavity 4 of their right carrier plug X42 is an empty one."""
    return small_model("reversing-lamps")


def believed(model, findings):
    """What findings leave."""
    root = usual_prior(model.schematic.id)
    return posterior(model.worlds, root, model.evidence(findings, root), model.axis.prior)


def told(model, belief, test) -> float:
    """What a reading tells of the side by definition: one bit less what is left of it after each outcome [bits]."""
    scale, spread = model.axis.middle(belief.states)
    sides = [belief.showing @ p.outcomes(scale, spread) for p in (model.predicted[test], model.mirrored(test).make())]
    left = 0.0
    for right, mirrored in zip(*sides, strict=True):
        both = (right + mirrored) / 2.0
        for part in (right / 2.0, mirrored / 2.0):
            left -= part * np.log2(part / both) if part else 0.0
    return 1.0 - left


def test_the_reading_that_tells_most_is_named(model):
    """Of all tests of the plug the one is chosen that leaves least of the one bit, within a twentieth."""
    belief = believed(model, [SymptomFinding("right-dark")])
    among = [id for id in model.tests if (m := model.mirrored(id)) and m.connector == "X42"]
    found = bearings_at(model, belief, "X42", among)
    bits = {id: told(model, belief, id) for id in among}
    assert found.bits == pytest.approx(bits[found.test], rel=1e-3)  # faint rows are left out of one
    assert found.bits >= max(bits.values()) - 0.05
    assert found.bits >= LEAST_BITS
    assert found.right != found.mirrored


def test_bearings_are_found_before_the_first_reading_of_a_plug(model):
    """Before anything is read there another reading is named; afterwards, and where no side is in doubt, none."""
    belief = believed(model, [SymptomFinding("right-dark")])
    doubtful = [id for id in model.tests if (m := model.mirrored(id)) and m.connector == "X42"]
    found = {id: bearings_for(model, belief, id, list(model.tests)) for id in doubtful}
    assert any(found.values())
    assert all(each.connector == "X42" and each.test != id for id, each in found.items() if each)
    after = believed(model, [SymptomFinding("right-dark"), ReadingFinding(doubtful[0], 0.0)])
    assert all(bearings_for(model, after, id, list(model.tests)) is None for id in doubtful)
    assert bearings_for(model, belief, next(iter(model.battery_tests)), list(model.tests)) is None


@pytest.mark.parametrize("plug", ["C12", "X33"])
def test_readings_from_the_mirrored_side_are_called_that(plug):
    """What a sound plug shows mirrored, 12.6 V where 0 V are due: the advice names the plug, also one of two.

    The same cavities read as they are meant leave no doubt of the side.
    """
    model = small_model("belt-reminder")
    tests = {model.tests[id].probe[0][1]: id for id in model.tests if (m := model.mirrored(id)) and m.connector == plug}
    complaint = SymptomFinding("lamp-stays-dark")

    def _read(predicted) -> list[ReadingFinding]:
        shown = {id: predicted(id).shown(NONE, 1.0, 0.0) for id in tests.values()}
        steady = {id: value for id, value in shown.items() if value is not None}
        return [ReadingFinding(id, None if np.isinf(value) else round(value, 2)) for id, value in steady.items()]

    advice = decide(model, [complaint, *_read(lambda id: model.mirrored(id).make())], depth=1)
    assert advice.mirrored[plug] > 0.9
    assert f"your readings at {plug} fit the mirrored side better" in advice.next.reason
    straight = decide(model, [complaint, *_read(model.predicted.get)], depth=1)
    assert straight.mirrored[plug] < 0.01
    assert plug not in straight.next.reason
