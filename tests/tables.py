"""Networks written down as tables: fault sets with their priors, and what each would show."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import product

import numpy as np

from advisor.network.engine import Evidence
from advisor.network.priors import Prior
from advisor.network.worlds import SPECIALS, Worlds

Faults = frozenset[str]
Showing = Callable[[Faults], Sequence[float]]


def fault_sets(modes: Mapping[str, Sequence[str]]) -> list[tuple[str, ...]]:
    """Every set of causes PART/MODE with at most one mode of a part, small sets first, singles in order."""
    causes = [f"{part}/{mode}" for part, names in modes.items() for mode in names]
    choices = [["", *(f"{part}/{mode}" for mode in names)] for part, names in modes.items()]
    sets = (tuple(filter(None, chosen)) for chosen in product(*choices))
    return sorted(sets, key=lambda s: (len(s), [causes.index(cause) for cause in s]))


def table_worlds(
    modes: Mapping[str, Sequence[str]],
    tests: Mapping[str, tuple[Sequence[str], Showing]],
    sets: Sequence[tuple[str, ...]] | None = None,
) -> Worlds:
    """Lay out worlds in which each test shows what its function says of the fault set.

    The special hypotheses show what the sound circuit shows; every cause has one severity.
    """
    causes = [f"{part}/{mode}" for part, names in modes.items() for mode in names]
    sets = [(), (), (), *(s for s in (sets or fault_sets(modes)) if s)]
    members = np.full((len(sets), len(modes)), -1, dtype=np.intp)
    for row, faults in enumerate(sets):
        members[row, : len(faults)] = [causes.index(cause) for cause in faults]
    ranges = np.stack([members, members + 1], axis=2)
    ranges[members < 0] = 0
    return Worlds(
        tuple(causes),
        np.array([i for i, names in enumerate(modes.values()) for _ in names], dtype=np.intp),
        np.arange(len(causes), dtype=np.intp),
        members,
        ranges,
        tuple(tests),
        tuple(tuple(outcomes) for outcomes, _ in tests.values()),
        np.array([[p for _, shows in tests.values() for p in shows(frozenset(s))] for s in sets], dtype=float),
        (),
        np.zeros((len(sets), 0)),
    )


def complete_prior(worlds: Worlds, weight: Callable[[Faults], float]) -> Prior:
    """The prior of worlds that hold every fault set and nothing else: none has the empty set's weight."""
    sets = [frozenset(worlds.causes[c] for c in row if c >= 0) for row in worlds.members]
    weights = np.array([weight(faults) for faults in sets])
    weights[1:SPECIALS] = 0.0
    return Prior(weights, 0.0, np.zeros(len(worlds.causes)))


def seen(worlds: Worlds, test: str, outcome: str) -> Evidence:
    """The finding that a test came out so."""
    return Evidence(worlds.likelihood[:, worlds.column_of[test, outcome]], 1.0)
