"""Three multipliers and two adders, after J. de Kleer, B. Williams, "Diagnosing multiple faults", 1987.

M1: X = 3 * 2, M2: Y = 2 * 3, M3: Z = 2 * 3; A1: F = X + Y, A2: G = Y + Z; seen is F = 10 where 12 is expected, and
G = 12.  A bad part gives anything.  Conflicts and diagnoses are published; the probabilities were computed by full
enumeration over the 32 fault sets.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

import numpy as np
import pytest
from tables import fault_sets, seen, table_worlds

from advisor.network.engine import posterior
from advisor.network.priors import prior

PARTS = ("M1", "M2", "M3", "A1", "A2")
# Each good part is an equation over X, Y, Z, F, G, and so is each observation: coefficients, then the right side.
GOOD = {
    "M1": (1, 0, 0, 0, 0, 6),
    "M2": (0, 1, 0, 0, 0, 6),
    "M3": (0, 0, 1, 0, 0, 6),
    "A1": (-1, -1, 0, 1, 0, 0),
    "A2": (0, -1, -1, 0, 1, 0),
}
SEEN = ((0, 0, 0, 1, 0, 10), (0, 0, 0, 0, 1, 12))
PROBES = {"X": 0, "Y": 1, "Z": 2}
VALUES = ("4", "6", "8", "unpredicted")


def rank(rows: Iterable[tuple[int, ...]], columns: slice = slice(None)) -> int:
    """Rank of some equations."""
    table = np.array(list(rows), dtype=float).reshape(-1, 6)[:, columns]
    return int(np.linalg.matrix_rank(table)) if table.size else 0


def equations(faults: Iterable[str]) -> list[tuple[int, ...]]:
    """What the good parts say."""
    bad = {fault.partition("/")[0] for fault in faults}
    return [row for part, row in GOOD.items() if part not in bad]


def fits(faults, values):
    """P(seen | faults), as (seen, other): an observation that the good parts leave open is one of some values."""
    model = equations(faults)
    both = [*model, *SEEN]
    if rank(both) > rank(both, slice(5)):
        return 0.0, 1.0
    chance = float(values) ** (rank(model, slice(5)) - rank(both, slice(5)))
    return chance, 1.0 - chance


def probed(faults, quantity):
    """P(value of X, Y or Z | faults, seen): certain where the equations fix it, else unpredicted."""
    rows, unit = [*equations(faults), *SEEN], np.eye(6)[quantity]
    if rank([*rows, tuple(unit)], slice(5)) > rank(rows, slice(5)) or not fits(faults, 1)[0]:
        return [0.0, 0.0, 0.0, 1.0]
    table = np.array(rows, dtype=float)
    value = np.linalg.lstsq(table[:, :5], table[:, 5], rcond=None)[0][quantity]
    return [float(name == str(round(value))) for name in VALUES]


def diagnosed(values):
    """The worlds of all 32 fault sets, and the posterior weights; each part is bad with probability .01."""
    modes = {part: ["bad"] for part in PARTS}
    tests = {"seen": (("yes", "no"), lambda faults: fits(faults, values))}
    tests |= {name: (VALUES, lambda faults, i=i: probed(faults, i)) for name, i in PROBES.items()}
    worlds = table_worlds(modes, tests, fault_sets(modes))
    root = prior(worlds, np.full(len(PARTS), -np.log(0.99)), as_designed=0.01, unlisted=0.01)
    assert root.omitted == pytest.approx(0.0, abs=1e-15)
    return worlds, posterior(worlds, root, [seen(worlds, "seen", "yes")]).weights


def possible_sets(worlds, weights):
    """The fault sets that explain what is seen, as sets of part names."""
    return [frozenset(PARTS[c] for c in row if c >= 0) for row in worlds.members[weights > 0.0]]


def bits(worlds, weights, name):
    """Entropy of what a probe will show [bit], and its distribution by value."""
    chances = weights @ worlds.likelihood[:, worlds.columns[worlds.tests.index(name)]]
    return -sum(p * np.log2(p) for p in chances if p > 0.0), dict(zip(VALUES, chances, strict=True))


def test_minimal_diagnoses_and_conflicts():
    """The smallest sets left possible, and the smallest sets that meet all of them, are as published."""
    found = possible_sets(*diagnosed(1))
    minimal = {s for s in found if not any(other < s for other in found)}
    assert minimal == {frozenset(s) for s in (("A1",), ("M1",), ("A2", "M2"), ("M2", "M3"))}
    hits = [frozenset(s) for k in range(1, 6) for s in combinations(PARTS, k) if all(set(s) & d for d in minimal)]
    conflicts = {s for s in hits if not any(other < s for other in hits)}
    assert conflicts == {frozenset(("A1", "M1", "M2")), frozenset(("A1", "A2", "M1", "M3"))}


@pytest.mark.parametrize(
    ("values", "faulty", "alone"),
    [
        (1, {"M1": 0.497635, "M2": 0.019609, "M3": 0.014780, "A1": 0.497635, "A2": 0.014780}, 0.478026),
        (16, {"M2": 0.001272}, 0.496225),
    ],
)
def test_faulty_parts(values, faulty, alone):
    """P(part bad | seen), and P(only A1 bad) = P(only M1 bad), with open values given chance 1 or 1/16."""
    worlds, weights = diagnosed(values)
    shares = dict(zip(PARTS, weights @ worlds.holds, strict=True))
    assert {part: shares[part] for part in faulty} == pytest.approx(faulty, abs=1e-6)
    single = {PARTS[row[0]]: w for row, w in zip(worlds.members, weights, strict=True) if (row >= 0).sum() == 1}
    assert single["A1"] == pytest.approx(alone, abs=1e-6)
    assert single["M1"] == pytest.approx(alone, abs=1e-6)


def test_best_probe():
    """X is 6 or 4 by nearly a fair coin, Y and Z are almost surely 6: to probe X tells most, 1.04 bits."""
    worlds, weights = diagnosed(1)
    told = {name: bits(worlds, weights, name)[0] for name in PROBES}
    assert told == pytest.approx({"X": 1.040838, "Y": 0.081544, "Z": 0.047402}, abs=1e-6)
    shown = {name: bits(worlds, weights, name)[1] for name in PROBES}
    assert (shown["X"]["6"], shown["X"]["4"]) == pytest.approx((0.502365, 0.492561), abs=1e-6)
    assert (shown["Y"]["6"], shown["Z"]["6"]) == pytest.approx((0.990097, 0.994926), abs=1e-6)


def test_best_probe_where_open_values_are_spread():
    """With sixteen values for what is left open X still tells most, 1.0406 bits."""
    worlds, weights = diagnosed(16)
    told = {name: bits(worlds, weights, name)[0] for name in PROBES}
    assert max(told, key=told.__getitem__) == "X"
    assert told["X"] == pytest.approx(1.0406, abs=5e-4)
