"""What repairs leave, against sets of causes by name."""

import numpy as np
import pytest
from shipped_models import drawn, small_model

from advisor.decision.bench import groundwork
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS

CIRCUITS = drawn("leaving")


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_what_is_left_is_the_set_without_what_was_restored(circuit):
    """After each repair the causes are those before less those restored, unless that set has no hypothesis."""
    model = small_model(circuit)
    ground, worlds = groundwork(model), model.worlds
    names = [frozenset(worlds.causes[c] for c in row if c >= 0) for row in worlds.members]
    known = set(names)
    for repair, plan in enumerate(ground.plans):
        for h in range(SPECIALS, len(names)):
            left = names[h] - plan.restores
            expected = left if left in known else names[h]
            assert names[ground.after[repair, h]] == expected
    assert (ground.after[:-1, :SPECIALS] == np.arange(SPECIALS)).all()


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_explaining_settles_what_is_as_designed(circuit):
    """Explaining leaves nothing of "as designed", and every fault as it is."""
    last = groundwork(small_model(circuit)).after[-1]
    assert last[AS_DESIGNED] == NONE
    assert (np.delete(last, AS_DESIGNED) == np.delete(np.arange(len(last)), AS_DESIGNED)).all()
