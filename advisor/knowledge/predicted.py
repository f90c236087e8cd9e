"""One test's predictions, equal ones once, and what they make of an outcome or a reading."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from advisor.knowledge.catalogue import Outcome, Test
from advisor.knowledge.library import Instrument
from advisor.knowledge.readings import (
    STRAY_JUMPS,
    UNLISTED_JUMPS,
    WANDERING,
    display_cell,
    floating,
    sharpest,
    strayed,
    unlisted,
    within,
)
from advisor.knowledge.supply import LOOSE, RAISED, RAISED_SPREAD, RAISED_VOLTS, Axis, exponent
from advisor.network.engine import Evidence
from advisor.network.linked import Linked
from advisor.network.shared import Numbers, Shared, Turned, classes
from advisor.network.worlds import NONE, UNLISTED

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Cell = tuple[float, float]
Reach = Literal["posts", "ground", "apart"]
"""Where a test's probes go: both to the battery's posts, the black one alone, or neither."""

RESTLESS = 0.5
"""Chance of jumping about from which a reading is predicted never to settle: judgement, no source."""
SAME_AGAIN = 0.7
"""Chance that the same person at the same place makes the same slip again: judgement, no source."""
_HANDHELD = ("voltmeter", "ohmmeter", "test-lamp", "jumper", "clamp", "ammeter", "fuse-drop")
"""Instruments that are put to a place, which may be the wrong one."""
ALIKE, UNSURE = 0.3, 0.5
"""Readings within this share of the sound circuit's follow the supply as it does; the share of the bend that is spread
else, half of it there: judgement, no source."""
_FAINT = 1e-6
"""Belief in a row from which it is looked at where only a test's outcomes under that belief are asked for."""
_EQUAL = 9
"""Predictions that agree to so many decimals are one row."""
_MIXER = np.uint64(0x9E3779B97F4A7C15)
"""2^64 over the golden ratio, made odd: D. Knuth, The Art of Computer Programming, volume 3, section 6.4."""


@dataclass(frozen=True)
class Mirrored:
    """What a test shows with its connector read from the other side: made when first asked for.

    Attributes:
        connector: The connector.
        chance: Prior of that.
        make: Gives the predictions at the mirrored cavities.
    """

    connector: str
    chance: float
    make: Callable[[], Predicted]


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
        jumps: Chance that it never settles, shape (U,).
        bend: By how much the sound circuit's reading follows the supply with a power above the usual one.
        quiet: P(a fault hides | hypothesis), shape (H,).
        hidden: The hypothesis as which each is seen while it hides, shape (H,).
        mirrored: What it would show with its connector mirrored, where that makes a difference.
    """

    test: Test
    tool: Instrument
    full: float
    grounded: bool
    lasting: float
    row: Numbers
    value: Floats
    spread: Floats
    jumps: Floats
    bend: float
    quiet: Floats
    hidden: Ints
    mirrored: Mirrored | None = None

    @staticmethod
    def of(  # noqa: PLR0913, PLR0917  a test, its instrument, its predictions
        test: Test, tool: Instrument, full: float, seen: Floats, reach: Reach, bend: float, quiet: Floats
    ) -> Predicted:
        """Merge equal values, spreads and jumps, shape (H, 3); the battery's posts can be misread, but not mistaken."""
        lasting = SAME_AGAIN * tool.slip if tool.id in _HANDHELD else 0.0
        if reach == "posts":
            tool, lasting = replace(tool, slip=1.0 - (1.0 - tool.slip) / (1.0 - lasting), mistakable=False), 0.0
        row, first = _merged(seen)
        row[UNLISTED] = len(first)
        value, spread, jumps = seen[np.append(first, NONE)].T
        hidden = np.broadcast_to(np.intp(NONE), len(seen))
        if test.kind == "inspect":  # damage is seen whether its fault shows or not
            hidden = np.arange(len(seen))
            hidden[UNLISTED] = NONE
        return Predicted(test, tool, full, reach == "ground", lasting, row, value, spread, jumps, bend, quiet, hidden)

    def outcomes(self, scale: float, spread: float) -> Floats:
        """P(outcome | hypothesis) at one supply, as a share of the rest voltage, and its spread: shape (H, O).

        A listed fault shows; an unlisted one may lie elsewhere.
        """
        block: Floats = self._rows(scale, spread)[self.row]
        block[UNLISTED] += self.quiet[UNLISTED] * (block[NONE] - block[UNLISTED])
        return block

    def expected(self, belief: Floats, scale: float, spread: float) -> Floats:
        """P(outcome) under a belief, shape (H,), as `outcomes` would give it, faint rows left out: shape (O,)."""
        mass = np.bincount(self.row, belief, minlength=len(self.value))
        mass[self.row[UNLISTED]] *= 1.0 - self.quiet[UNLISTED]
        mass[self.row[NONE]] += belief[UNLISTED] * self.quiet[UNLISTED]
        weighs = mass > _FAINT
        weighs[self.row[[NONE, UNLISTED]]] = True  # the sound circuit's and the last, which others are made from
        on = np.flatnonzero(weighs)
        few = replace(
            self,
            row=np.searchsorted(on, self.row[: NONE + 1]),
            value=self.value[on],
            spread=self.spread[on],
            jumps=self.jumps[on],
        )
        found: Floats = mass[on] @ few._rows(scale, spread) / mass[on].sum()
        return found

    def _rows(self, scale: float, spread: float) -> Floats:
        """P(outcome | row) at one supply, shape (U, O)."""
        value, wide = (found[:, 0] for found in self.at(np.array([scale]), np.array([spread])))
        if self.slips:
            cells = [_cell(o) for o in self.test.outcomes]
            columns = [self._chance(value, wide, cell, self.tool.slip) for cell in cells]
            anything = [self._anything(cell, UNLISTED_JUMPS) for cell in cells]
        else:
            columns, anything = [value, 1.0 - value], [0.5, 0.5]
        table = np.stack(columns, axis=-1)
        table[-1] = unlisted(table[self.row[NONE]], np.array(anything))
        table /= table.sum(axis=1, keepdims=True)
        return table

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
            table = self._rows(1.0, 0.0)[:, number, None]
            return Evidence.read(table[self.row, 0], self.quiet, self.hidden, 1.0)
        return self._evidence(_cell(found), 1.0, axis, extra, times)

    def linked(self, axis: Axis, kept: Ints) -> Linked:
        """All outcomes in every shared state under some hypotheses, for the exported network."""
        if not self.slips:
            rows, none = self._rows(1.0, 0.0), np.zeros(len(self.test.outcomes))
            return Linked(rows[self.row[kept], None], rows[self.row[self.hidden[kept]], None], "", 0.0, none)
        each = [self.outcome(o.id, axis, 0.0).shared for o in self.test.outcomes]
        known = [shared for shared in each if shared is not None]
        stray, turned = np.array([shared.stray for shared in known]), [s.turned for s in known if s.turned]
        straight = self._either([shared.table for shared in known], self.row, kept)
        other = self._either([t.table for t in turned], turned[0].row, kept) if turned else None
        connector, chance = (turned[0].connector, turned[0].chance) if turned else ("", 0.0)
        place, stray = known[0].place, stray / stray.sum()
        return Linked(*straight, place, self.lasting, stray, connector, chance, other)

    def _either(self, columns: Sequence[Floats], row: Numbers, kept: Ints) -> tuple[Floats, Floats]:
        """All outcomes by hypothesis and state while its fault shows, and while it hides, shape (H, G, O) each."""
        table = np.stack(columns, axis=-1)
        table /= table.sum(axis=-1, keepdims=True)
        return table[row[kept]], table[row[self.hidden[kept]]]

    def shown(self, hypothesis: int, scale: float, spread: float) -> float | None:
        """What is predicted under one hypothesis at one supply [V, A, ohm, share, chance]; None if it never settles."""
        row = int(self.row[hypothesis])
        if self.jumps[row] >= RESTLESS:
            return None
        if not self.slips:
            return float(self.value[row])
        value = float(self.at(np.array([scale]), np.array([spread]))[0][row, 0])
        if not self.tool.logarithmic:
            return value
        ohms: float = 10.0**value
        return float("inf") if ohms >= (self.tool.range or np.inf) else ohms

    def read(self, value: float | None, axis: Axis, extra: float, times: int = 1) -> Evidence:
        """A reading [V, A, ohm], None for over range, as evidence; `times` is how often the same was read."""
        sharp = sharpest(value, float(self.spread.min()), self.tool)
        return self._evidence(display_cell(value, self.tool), sharp, axis, extra, times)

    @property
    def slips(self) -> bool:
        """Whether a slip may give any outcome; a look for damage has its mistakes in the library's chance."""
        return self.test.kind != "inspect"

    def _chance(self, value: Floats, wide: Floats, cell: Cell | None, slip: float) -> Floats:
        """P(reading in cell) with a chance of a slip, any shape whose first axis is the rows'; no cell: it jumps."""
        jumps = self.jumps.reshape(-1, *[1] * (value.ndim - 1))
        if cell is None:
            seen = np.broadcast_to(jumps, value.shape)
        else:
            seen = (1.0 - jumps) * within(value, wide, cell, self.tool, self.full)
        return (1.0 - slip) * seen + slip * self._anything(cell, STRAY_JUMPS)

    def _anything(self, cell: Cell | None, jumps: float) -> float:
        """P(reading in cell) wherever the probe may be, where it jumps with a given chance."""
        jumps = jumps if self.test.unit in WANDERING else 0.0
        return jumps if cell is None else (1.0 - jumps) * strayed(cell, self.tool, self.full)

    def _evidence(self, cell: Cell | None, sharp: float, axis: Axis, extra: float, times: int) -> Evidence:
        moment = 1.0 - (1.0 - self.tool.slip) / (1.0 - self.lasting)
        stray = self._anything(cell, STRAY_JUMPS)
        table, turned = self._whole(cell, axis, extra, moment**times), self._turned(cell, axis, extra, moment**times)
        place = "/".join(self._place)
        shared = Shared(self.row, table, moment**times * stray, place, self.lasting, stray, turned)
        alone = shared.alone(axis.prior)
        bound = max(float(table.max()), sharp, float(alone.max()), float(turned.table.max()) if turned else 0.0)
        slipped = (1.0 - shared.lasting) * shared.slipped + shared.lasting * shared.stray
        return Evidence.read(alone, self.quiet, self.hidden, bound, slipped, shared)

    def _whole(self, cell: Cell | None, axis: Axis, extra: float, slip: float) -> Floats:
        """P(reading in cell | row, state), the row of what is not listed included, shape (U, G) or (U, 1)."""
        table = self._table(cell, axis, extra, slip)
        table[-1] = unlisted(table[self.row[NONE]], np.array(self._anything(cell, UNLISTED_JUMPS)))
        return table

    def _turned(self, cell: Cell | None, axis: Axis, extra: float, slip: float) -> Turned | None:
        """The same at the mirrored cavities."""
        if self.mirrored is None:
            return None
        there = self.mirrored.make()
        return Turned(self.mirrored.connector, self.mirrored.chance, there.row, there._whole(cell, axis, extra, slip))

    @property
    def _place(self) -> tuple[str, ...]:
        """Where the hand is: the red probe's cavity, the clamp's wire, or the load that is watched."""
        return self.test.probe[0] if self.test.probe else (self.test.observed.load or self.test.id,)

    def at(self, scale: Floats, width: Floats) -> tuple[Floats, Floats]:
        """Value and spread at some supplies, as shares of the rest voltage, and their spreads: shape (U, supplies).

        What reads as the sound circuit does follows the supply as that does.  How well anything else follows it is
        not known, so the bend is in its spread.
        """
        usual = exponent(self.test)
        near = np.abs(self.value - self.value[self.row[NONE]]) <= ALIKE * np.abs(self.value[self.row[NONE]])
        power = (usual + self.bend * near)[:, None]
        value = self.value[:, None] * scale**power
        unsure = value * self.bend * np.log(scale) * np.where(near, UNSURE / 2.0, UNSURE)[:, None]
        return value, np.sqrt(self.spread[:, None] ** 2 + (value * power * width) ** 2 + unsure**2)

    def _table(self, cell: Cell | None, axis: Axis, extra: float, slip: float) -> Floats:
        """P(reading in cell | row, state) with slips of the moment, shape (U, G), or (U, 1) if no state matters."""
        if not exponent(self.test):
            return self._chance(self.value, self.spread, cell, slip)[:, None]
        states, back = np.unique(axis.supplies, return_inverse=True)
        if self.grounded:
            states, back = np.arange(len(axis.prior)), np.arange(len(axis.prior))
        value, wide = self.at(axis.scale[states], np.hypot(axis.width[states], extra))
        if self.grounded:
            raised = axis.black == RAISED
            value, wide = value - RAISED_VOLTS * raised, np.hypot(wide, RAISED_SPREAD * raised)
        table: Floats = self._chance(value, wide, cell, slip)[:, back]
        if self.grounded:
            table[:, axis.black == LOOSE] = self._in_the_air._chance(np.zeros(1), self._in_the_air.spread, cell, slip)
        return table

    @cached_property
    def _in_the_air(self) -> Predicted:
        """What the meter shows with its black lead on paint: as with the red one in the air, nothing is joined."""
        value, spread, jumps = floating(self.tool, self.full)[:, None]
        return replace(self, value=value, spread=spread, jumps=jumps)


def _cell(outcome: Outcome) -> Cell | None:
    """The range of an outcome; None for the one that never settles."""
    return (outcome.low, outcome.high) if outcome.settles else None


def _merged(seen: Floats) -> tuple[Numbers, Ints]:
    """Number of each row, equal ones alike, shape (H,), and the first of each; in the fewest bytes that hold them.

    One sort of mixed bits stands for a sort of each column, and is checked.
    """
    rounded = np.round(seen, _EQUAL) + 0.0  # of the two zeros one
    mixed = np.zeros(len(seen), dtype=np.uint64)
    for bits in rounded.view(np.uint64).T:
        mixed = (mixed ^ bits) * _MIXER
        mixed ^= mixed >> np.uint64(32)
    _, first, row = np.unique(mixed, return_index=True, return_inverse=True)
    if not np.array_equal(rounded[first][row], rounded):  # two rows that differ were mixed to the same bits
        row, first = classes([np.unique(column, return_inverse=True)[1] for column in rounded.T], len(seen))
    return row.astype(np.min_scalar_type(len(first))), first
