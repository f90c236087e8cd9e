"""Fault sets as arrays do what their changes say, one after the other."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from advisor.circuit.faults import Faults
from advisor.circuit.netlist import OPEN, Change

SOUND = np.array([1.0, OPEN, 5.0])
CHANGES = st.builds(
    Change, st.integers(0, 2), st.sampled_from(("add", "set", "scale")), st.sampled_from((0.5, 3.0, 1e4))
)


def changed(ohms: float, change: Change) -> float:
    """One change, as its kind says."""
    return {"add": ohms + change.value, "scale": ohms * change.value, "set": change.value}[change.kind]


@given(st.lists(st.lists(CHANGES | st.just(Change(0, "set", OPEN)), max_size=4), max_size=6))
def test_changes_follow_each_other(sets):
    """Several changes of one element act in their order; an open element can be set, and stays open otherwise."""
    wanted = np.repeat(SOUND[:, None], len(sets), axis=1)
    for row, changes in enumerate(sets):
        for change in changes:
            wanted[change.element, row] = changed(wanted[change.element, row], change)
    assert Faults.of(sets).applied(SOUND).tolist() == wanted.tolist()
