"""A known-good part in the place of a suspected one: what moves with the fault, and what stays."""

from dataclasses import replace

import numpy as np
import pytest
from shipped_models import SWEPT, small_model

from advisor.decision.advise import decide
from advisor.decision.bench import groundwork
from advisor.network.findings import OutcomeFinding, SymptomFinding
from advisor.network.worlds import SPECIALS


def swaps(model):
    """Every swap with the look that it repeats."""
    looks = {(t.observed, t.setup.key): t for t in model.compiled.tests if t.kind == "look"}
    plain = [(t, looks.get((t.observed, replace(t.setup, swap="").key))) for t in model.compiled.tests]
    return [(test, look) for test, look in plain if test.setup.swap]


@pytest.mark.parametrize("circuit", [*SWEPT, "horn"])  # these have parts that are swapped
def test_a_swap_shows_what_the_repaired_vehicle_would(circuit):
    """The light with a good part in is that of the hypothesis without the part's faults, wherever that is one."""
    model = small_model(circuit)
    ground, columns, compared = groundwork(model), model.positions, 0
    assert swaps(model)
    for test, look in swaps(model):
        if look is None:
            continue
        own = {i for i, cause in enumerate(model.wiring.causes) if cause.part == test.setup.swap}
        for plan, after in zip(ground.plans, ground.exactly.after, strict=False):
            cured = {i for i, cause in enumerate(model.wiring.causes) if cause.id in plan.restores}
            shown, then = model.compiled.value[:, columns[test.id]], model.compiled.value[after, columns[look.id]]
            for h in range(SPECIALS, len(shown)):
                there = set(model.compiled.members[h].tolist()) - {-1}
                # Fuses that the part's own fault has cost are another matter, and the next test's.
                whole = not model.compiled.latched[h].any() and not model.compiled.latched[after[h]].any()
                if there & own and there & own == there & cured and after[h] != h and whole:
                    # What is left of a pair stands in a coarse severity there and in a fine one here.
                    left = model.compiled.severities[after[h]]
                    fine = (left[:, 1] - left[:, 0]).max(initial=1) == 1 and len(there) > 1
                    assert shown[h] == pytest.approx(then[h], abs=0.35 if fine else 1e-9), (test.id, there)
                    compared += 1
    assert compared >= 10


def test_the_fault_moves_with_the_relay():
    """A dead blower that runs with another relay had a bad relay; one that stays dead had not (worked by hand)."""
    model = small_model("blower")
    test, look = next(pair for pair in swaps(model) if pair[0].setup.swap == "K5")
    dead = [SymptomFinding("all-dead"), OutcomeFinding(look.id, "stopped")]

    def relay(*findings):
        causes = decide(model, [*dead, *findings], depth=1).causes
        return sum(cause.probability for cause in causes if cause.part == "K5")

    before = relay()
    assert 0.02 < before < 0.6
    assert relay(OutcomeFinding(test.id, "full")) > 0.8
    assert relay(OutcomeFinding(test.id, "stopped")) < before / 5.0


def test_what_the_old_part_has_cost_stays():
    """With a good part in, fuses that have opened stay open: every row with one open reads as a dead circuit does."""
    model = small_model("reversing-lamps")
    blown = np.flatnonzero(model.compiled.latched.any(axis=1))
    assert len(blown)
    for test, _ in swaps(model):
        shown = model.compiled.value[blown, model.positions[test.id]]
        assert (shown < 0.2).mean() > 0.9
