"""A compiled circuit as a value: tests, hypotheses and what each test would read under each."""

from __future__ import annotations

import mmap
from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.catalogue import Test, Withheld
from advisor.knowledge.documents import Schematic

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Compiled:
    """Knowledge of one circuit, free of priors and prices.

    Attributes:
        tests: T tests with outcomes and normal values.
        withheld: Tests that are never proposed.
        causes: C cause ids, PART/MODE.
        members: Causes of each hypothesis, -1 where fewer, shape (H, K).
        severities: First and one past the last severity of each member, shape (H, K, 2).
        value: What each test would read [V, A, log10 of ohms, or share of light], shape (H, T).
        spread: Its standard deviation, the supply's share left out, shape (H, T).
        jumps: Chance that it never settles, loose contacts left out, shape (H, T).
        presence: P(symptom shows | hypothesis), shape (H, S).
        jumper_amps: Largest current that a jumper test, done here or one cavity off, would draw [A]; zero for
            other tests; shape (H, T).
        seconds: How long each stage took [s].
        needs: Causes of which a fault set must hold one to show each symptom, shape (S, C); all true where nothing
            is proved, empty where nobody has asked.
        otherwise: P(symptom shows) of a set that holds none of them, at most, shape (S,).
        bend: By how much the sound circuit's reading of each test follows the supply with a power above the usual
            one, shape (T,).
        latched: Fuses that have opened under each hypothesis before anybody looks, in the netlist's order, shape
            (H, F).
        mirrored: Value, spread and jumps of the tests of `mirrors.mirrored_tests`, in their order, as they read then,
            shape (3, H, M); empty where nobody has asked.
        mirrored_bend: The bend of each of these, shape (M,).
    """

    tests: tuple[Test, ...]
    withheld: tuple[Withheld, ...]
    causes: tuple[str, ...]
    members: NDArray[np.intp]
    severities: NDArray[np.intp]
    value: Floats
    spread: Floats
    jumps: Floats
    presence: Floats
    jumper_amps: Floats
    seconds: dict[str, float]
    needs: NDArray[np.bool_] = field(default_factory=lambda: np.zeros((0, 0), dtype=bool))
    otherwise: Floats = field(default_factory=lambda: np.zeros(0))
    bend: Floats = field(default_factory=lambda: np.zeros(0))
    latched: NDArray[np.bool_] = field(default_factory=lambda: np.zeros((0, 0), dtype=bool))
    mirrored: Floats = field(default_factory=lambda: np.zeros((3, 0, 0)))
    mirrored_bend: Floats = field(default_factory=lambda: np.zeros(0))

    def let_go(self) -> None:
        """Tell the system that nothing of arrays that are maps of files is needed now; their files still have it."""
        for each in fields(self):
            mapped = _map_of(getattr(self, each.name))
            if mapped is not None and hasattr(mmap, "MADV_DONTNEED"):
                mapped.madvise(mmap.MADV_DONTNEED)


def _map_of(array: object) -> mmap.mmap | None:
    """The map of a file that an array is a view of, if it is one."""
    while array is not None and not isinstance(array, mmap.mmap):
        array = getattr(array, "base", None)
    return array


def supply_volts(schematic: Schematic) -> float:
    """The battery's rest voltage [V]."""
    return schematic.battery.volts or 0.0
