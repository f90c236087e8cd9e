"""Looks at a complaint before and after repairs share what makes it show: against sums over a fine grid."""

import numpy as np
import pytest

from advisor.network.paths import Paths
from advisor.network.proving import MISREAD, RETURNS, Proof, proved

GRID = (np.arange(2000) + 0.5) / 2000.0
"""Numbers u; chances below are multiples of a twentieth, so that sums over the grid are exact."""


def grid_chance(before, base, proofs):
    """P(complaint and results) of one path, u by u."""
    total = 0.0
    for u in GRID:
        chance = 1.0 if u < before else base
        for result, shows, hides in proofs:
            on = u < shows
            told = {
                "stays": (1.0 - hides) if on else 0.0,
                "gone": (1.0 - RETURNS) * hides if on else 1.0,
                "back": RETURNS * hides if on else 0.0,
            }[result]
            chance *= (1.0 - MISREAD) * told + MISREAD / 3.0
        total += chance / len(GRID)
    return total


@pytest.mark.parametrize("seed", range(20))
def test_results_are_sums_over_what_all_looks_share(seed):
    """Of two paths and up to three repairs, every result given those before it."""
    rng = np.random.default_rng(seed)
    before, base = rng.integers(0, 21, 2) / 20.0, rng.uniform(0.05, 1.0, 2)
    results = [str(r) for r in rng.choice(["stays", "gone", "back"], size=int(rng.integers(1, 4)))]
    proofs = [Proof(r, rng.integers(0, 21, 2) / 20.0, rng.integers(0, 5, 2) / 20.0) for r in results]
    found = proved(before, base, proofs)
    for path in range(2):
        rows = [(p.result, p.shows[path], p.hides[path]) for p in proofs]
        joint = [grid_chance(before[path], base[path], rows[:n]) for n in range(len(rows) + 1)]
        for n, told in enumerate(found):
            assert told[path] * joint[n] == pytest.approx(joint[n + 1], abs=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_results_of_one_repair_sum_to_one(seed):
    """A complaint stays, is gone or is back."""
    rng = np.random.default_rng(seed)
    before, base, shows, hides = rng.uniform(size=(4, 6))
    total = sum(proved(before, base, [Proof(result, shows, hides)])[0] for result in ("stays", "gone", "back"))
    assert total == pytest.approx(np.ones(6), abs=1e-12)


def test_a_fault_that_shows_for_certain_goes_on_doing_so():
    """An unrelated repair of a fault that always shows leaves the complaint, but for a misread look."""
    (stays,) = proved(np.ones(1), np.zeros(1), [Proof("stays", np.ones(1), np.zeros(1))])
    assert stays == pytest.approx([1.0 - MISREAD * 2.0 / 3.0])


def test_ways_split_where_a_repair_may_fail():
    """Of four hypotheses the repair cures one of two; a second repair of the same finds only what the first left."""
    after, solved = np.array([0, 0, 2, 2]), np.array([True, True, True, False])
    once = Paths.untouched(4).repaired(after, solved, 0.1)
    assert once.start.tolist() == [0, 1, 2, 3, 1, 3]
    assert once.now.tolist() == [0, 0, 2, 2, 1, 3]
    assert once.chance == pytest.approx([1.0, 0.9, 1.0, 0.9, 0.1, 0.1])
    assert once.solved.tolist() == [True, True, True, False, True, True]
    twice = once.repaired(after, solved, 0.1)
    assert twice.folded(twice.chance, 4) == pytest.approx([1.99, 0.01, 1.99, 0.01])
