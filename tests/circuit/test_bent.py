"""Elimination of lamps' small systems against a library's, and lamps and motors in one circuit."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.circuit.bent import solved


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.integers(1, 9), st.integers(0, 10**6))
def test_small_systems_are_solved(size, seed):
    """1 + Z D with Z of a passive network and D above what keeps it passive gives LAPACK's answer, row by row."""
    rng = np.random.default_rng(seed)
    hot = rng.uniform(0.1, 10.0, (7, size))
    root = rng.normal(size=(7, size, size)) * 10.0 ** rng.uniform(-4, 2, (7, 1, 1))
    outside = root @ root.transpose(0, 2, 1)
    seen = np.linalg.solve(np.eye(size) + outside * hot[:, None, :], outside)  # each element's own hot path included
    curved = np.eye(size) + seen * (hot * rng.uniform(-0.9, 11.0, (7, size)))[:, None, :]
    right = rng.normal(size=(7, size))
    wanted = np.linalg.solve(curved, right[:, :, None])[:, :, 0]
    found = solved(np.ascontiguousarray(curved.transpose(1, 2, 0)), right.T).T
    assert found == pytest.approx(wanted, rel=1e-8, abs=1e-9)
