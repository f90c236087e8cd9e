"""One test's predictions, equal ones once, and what they make of an outcome or a reading."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.catalogue import Test
from advisor.knowledge.library import Instrument
from advisor.knowledge.readings import chances, display_cell, reading, sharpest, strayed, unlisted
from advisor.knowledge.supply import LOOSE, LOOSE_SPREAD, RAISED, RAISED_SPREAD, RAISED_VOLTS, Axis, exponent
from advisor.network.engine import Evidence
from advisor.network.linked import Linked
from advisor.network.shared import Shared
from advisor.network.worlds import NONE, UNLISTED

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Reach = Literal["posts", "ground", "apart"]
"""Where a test's probes go: both to the battery's posts, the black one alone, or neither."""

SAME_AGAIN = 0.7
"""Chance that the same person at the same place makes the same slip again: judgement, no source."""
_HANDHELD = ("voltmeter", "ohmmeter", "test-lamp", "jumper", "clamp")
"""Instruments that are put to a place, which may be the wrong one."""
_EQUAL = 9
"""Predictions that agree to so many decimals are one row."""


@dataclass(frozen=True)
class Predicted:
    """What one test would show under every hypothesis.

    Attributes:
        test: The test.
        tool: Its instrument.
        full: The reading that stands for full supply, full light, or the usual current.
        grounded: Whether its black lead goes to the battery's post from afar.
        lasting: Chance that the place is the wrong one, and so is for all that is read there.
        row: Row of each hypothesis, shape (H,); the last row is unlisted's alone.
        value: Predicted reading of each row at the battery's rest voltage, shape (U,).
        spread: Its standard deviation, the supply's share left out, shape (U,).
    """

    test: Test
    tool: Instrument
    full: float
    grounded: bool
    lasting: float
    row: Ints
    value: Floats
    spread: Floats

    @staticmethod
    def of(test: Test, tool: Instrument, full: float, seen: tuple[Floats, Floats], reach: Reach) -> Predicted:
        """Merge equal values and spreads, shape (H,) each; the battery's posts can be misread, but not mistaken."""
        lasting = SAME_AGAIN * tool.slip if tool.id in _HANDHELD else 0.0
        if reach == "posts":
            tool, lasting = replace(tool, slip=1.0 - (1.0 - tool.slip) / (1.0 - lasting), mistakable=False), 0.0
        keys = np.round(seen[0], _EQUAL) + 1j * np.round(seen[1], _EQUAL)
        _, first, row = np.unique(keys, return_index=True, return_inverse=True)
        chosen = np.append(first, NONE)
        row[UNLISTED] = len(first)
        return Predicted(test, tool, full, reach == "ground", lasting, row, seen[0][chosen], seen[1][chosen])

    def outcomes(self, scale: float, spread: float) -> Floats:
        """P(outcome | hypothesis) at one supply, as a share of the rest voltage, and its spread: shape (H, O)."""
        power = exponent(self.test)
        value = self.value * scale**power
        wide = np.hypot(self.spread, value * power * spread)
        table = chances(value, wide, self.test, self.tool, self.full)
        anything = [strayed((o.low, o.high), self.tool, self.full) for o in self.test.outcomes]
        table[-1] = unlisted(table[self.row[NONE]], np.array(anything) if self.slips else np.full(len(anything), 0.5))
        table /= table.sum(axis=1, keepdims=True)
        block: Floats = table[self.row]
        return block

    def outcome(self, id: str, axis: Axis, extra: float, times: int = 1) -> Evidence:
        """An outcome, seen so many times, as evidence; `extra` is spread of the supply since it was read.

        Raises:
            KeyError: the test has no such outcome.
        """
        found = next((o for o in self.test.outcomes if o.id == id), None)
        if found is None:
            raise KeyError(f"outcome {id} of test {self.test.id}")
        if not self.slips:  # what is seen by mistake is in the chance itself
            number = [o.id for o in self.test.outcomes].index(id)
            return Evidence(self.outcomes(1.0, 0.0)[:, number], 1.0)
        return self._evidence((found.low, found.high), 1.0, axis, extra, times)

    def linked(self, axis: Axis, kept: Ints) -> Linked:
        """All outcomes in every shared state under some hypotheses, for the exported network."""
        if not self.slips:
            return Linked(self.outcomes(1.0, 0.0)[kept, None], "", 0.0, np.zeros(len(self.test.outcomes)))
        each = [self.outcome(o.id, axis, 0.0).shared for o in self.test.outcomes]
        known = [shared for shared in each if shared is not None]
        table = np.stack([shared.table for shared in known], axis=-1)
        table /= table.sum(axis=-1, keepdims=True)
        stray = np.array([shared.stray for shared in known])
        return Linked(table[self.row[kept]], known[0].place, self.lasting, stray / stray.sum())

    def read(self, value: float | None, axis: Axis, extra: float, times: int = 1) -> Evidence:
        """A reading [V, A, ohm], None for over range, as evidence; `times` is how often the same was read."""
        sharp = sharpest(value, float(self.spread.min()), self.tool)
        return self._evidence(display_cell(value, self.tool), sharp, axis, extra, times)

    @property
    def slips(self) -> bool:
        """Whether a slip may give any outcome; a look for damage has its mistakes in the library's chance."""
        return self.test.kind != "inspect"

    def _evidence(self, cell: tuple[float, float], sharp: float, axis: Axis, extra: float, times: int) -> Evidence:
        moment = 1.0 - (1.0 - self.tool.slip) / (1.0 - self.lasting)
        stray = strayed(cell, self.tool, self.full)
        table = self._table(cell, axis, extra, moment**times)
        table[-1] = unlisted(table[self.row[NONE]], np.array(stray))
        shared = Shared(self.row, table, moment**times * stray, "/".join(self._place), self.lasting, stray)
        alone = shared.alone(axis.prior)
        bound = max(float(alone.max()), float(table.max()), sharp)
        return Evidence(alone, bound, shared.slipped + self.lasting * stray, shared)

    @property
    def _place(self) -> tuple[str, ...]:
        """Where the hand is: the red probe's cavity, the clamp's wire, or the load that is watched."""
        return self.test.probe[0] if self.test.probe else (self.test.observed.load or self.test.id,)

    def _table(self, cell: tuple[float, float], axis: Axis, extra: float, slip: float) -> Floats:
        """P(reading in cell | row, state) with slips of the moment, shape (U, G), or (U, 1) if no state matters."""
        power = exponent(self.test)
        if not power:
            return reading(self.value, self.spread, cell, self.tool, self.full, slip)[:, None]
        states, back = np.unique(axis.supplies, return_inverse=True)
        if self.grounded:
            states, back = np.arange(len(axis.prior)), np.arange(len(axis.prior))
        value = self.value[:, None] * axis.scale[states] ** power
        wide = np.hypot(self.spread[:, None], value * power * np.hypot(axis.width[states], extra))
        if self.grounded:
            raised, loose = axis.black == RAISED, axis.black == LOOSE
            value, wide = value - RAISED_VOLTS * raised, np.hypot(wide, RAISED_SPREAD * raised)
            value, wide = np.where(loose, 0.0, value), np.where(loose, LOOSE_SPREAD, wide)
        table: Floats = reading(value, wide, cell, self.tool, self.full, slip)
        return table[:, back]
