"""A long-running process keeps what it has worked out of the circuits in use, and lets go of the rest."""

import gc
import weakref

import numpy as np
import pytest

import advisor
from advisor import engine as edge
from advisor.contract.service import answer_body
from advisor.knowledge.keeping import bare, is_bare
from advisor.knowledge.predicted import _merged
from advisor.network.shared import classes


def body(circuit, model):
    """Ask one step ahead for the first complaint of a circuit."""
    return {"circuit": circuit, "findings": [{"symptom": next(iter(model.schematic.symptoms))}], "depth": 1}


def test_circuits_out_of_use_are_bare_and_answer_as_before(monkeypatch):
    """With room for one, asking about a second lets go of the first; asked again, it answers the same."""
    monkeypatch.setattr(edge, "KEEP", 1)
    shelf = advisor.shipped_engine()
    first, second = shelf.load("belt-reminder"), shelf.load("horn")
    assert is_bare(first)
    before = answer_body(body("belt-reminder", first), shelf)
    assert not is_bare(first)
    assert shelf.load("belt-reminder") is first
    gone = weakref.ref(first)
    answer_body(body("horn", second), shelf)
    assert is_bare(shelf.load("belt-reminder"))
    assert not is_bare(shelf.load("horn"))
    gc.disable()
    try:
        del first
        assert gone() is None  # nothing refers to it in a circle
    finally:
        gc.enable()
    assert answer_body(body("belt-reminder", shelf.load("belt-reminder")), shelf) == before


def test_listing_keeps_what_is_in_use():
    """Loading every circuit, as a list does, lets go of none that was asked about."""
    shelf = advisor.shipped_engine()
    answer_body(body("belt-reminder", shelf.load("belt-reminder")), shelf)
    kept = shelf.load("belt-reminder")
    for circuit in ("horn", "blower", "fuel-gauge", "engine-runs-hot", "starter", "cranks-but-does-not-start"):
        shelf.load(circuit)
    assert shelf.load("belt-reminder") is kept
    assert not is_bare(kept)


def test_a_release_of_priors_goes_with_its_model():
    """What is worked out under other priors counts as kept, and is let go too."""
    model = advisor.load("belt-reminder")
    release = model.with_priors("some", {model.cause_ids[0]: 2.0})
    assert is_bare(model)
    assert release.worlds.likelihood.shape[0] == len(model.compiled.members)
    assert not is_bare(model)
    assert is_bare(bare(model))


@pytest.mark.parametrize("values", [4, 40])
def test_equal_rows_are_merged(rng, values):
    """One sort of mixed bits finds the same classes as a sort of each column, both zeros being one."""
    seen = np.round(rng.normal(size=(values, 3)), 1)[rng.integers(values, size=700)] * rng.choice([1.0, -1.0], (700, 3))
    seen[rng.integers(700, size=60), rng.integers(3, size=60)] = -0.0
    seen[rng.integers(700, size=60), rng.integers(3, size=60)] = 0.0
    row, first = _merged(seen)
    slow, slow_first = classes([np.unique(column, return_inverse=True)[1] for column in seen.T], len(seen))
    assert np.array_equal(seen[first][row], seen)
    assert sorted(first.tolist()) == sorted(slow_first.tolist())
    assert np.array_equal(row[:, None] == row, slow[:, None] == slow)
