"""Readings that never settle."""

import numpy as np
import pytest
from shipped_models import drawn, small_model, usual_prior

from advisor.decision.advise import decide
from advisor.knowledge.readings import wanders
from advisor.network.findings import OutcomeFinding, SymptomFinding

CIRCUITS = drawn("jumps")


@pytest.mark.parametrize(("wander", "chance"), [(0.0, 0.0), (0.45, 0.484), (3.78, 0.934)])
def test_what_is_called_unsteady(wander, chance):
    """At 12.6 V, 0.315 V is noticed: 2 Phi(-0.315/0.45) = .484 on a floating wire, .934 while a unit resets."""
    assert wanders(np.array([wander]), "V", 12.6)[0] == pytest.approx(chance, abs=1e-3)


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_only_readings_jump(circuit):
    """Volts and amperes may jump about, last of their outcomes; looks, damage and ohms are not asked so."""
    for test in small_model(circuit).tests.values():
        assert (test.outcomes[-1].id == "jumps") == (test.unit in ("V", "A"))
        assert all(outcome.settles for outcome in test.outcomes[:-1])


def test_a_cut_wire_floats():
    """The switch wire cut at the unit: nothing holds it at prove-out, belt fastened, so its reading wanders."""
    model = small_model("belt-reminder")
    worlds, test = model.worlds, "volts.X31-1-a.prove-out"
    held = worlds.holds[:, worlds.causes.index("W103/open")] & (worlds.holds.sum(axis=1) == 1)
    column = worlds.column_of[test, "jumps"]
    assert worlds.likelihood[0, column] < 0.02
    assert (worlds.likelihood[held, column] > 0.3).all()


def test_an_unsteady_reading_points_at_contacts():
    """A reading that jumps about where it should stand still speaks for contacts that it hangs on."""
    model = small_model("reversing-lamps")
    complaint, jumps = SymptomFinding("dim"), OutcomeFinding("volts.X22-2.reverse", "jumps")
    before, after = (
        sum(c.probability for c in decide(model, findings).causes if c.part.startswith(("X5/", "X22/")))
        for findings in ([complaint], [complaint, jumps])
    )
    assert after > 3.0 * before


@pytest.mark.parametrize("circuit", CIRCUITS)
def test_a_steady_reading_speaks_against_what_jumps(circuit):
    """All outcomes of a test, the unsteady one among them, are one partition: they sum to 1 with shared states too."""
    model, root = small_model(circuit), usual_prior(circuit)
    for test in list(model.tests.values())[::9]:
        total = sum(model.evidence([OutcomeFinding(test.id, o.id)], root)[0].likelihood for o in test.outcomes)
        assert total == pytest.approx(1.0, abs=1e-9)
