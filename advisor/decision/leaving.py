"""What is left of each hypothesis once a repair has been done."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.decision.expected import Restores
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, Bools, Ints

Member = tuple[int, int, int]
"""A cause with its first and one past its last severity."""


@dataclass(frozen=True)
class Left:
    """What repairs leave, explaining last.

    Attributes:
        after: The hypothesis that each repair leaves of each, shape (R + 1, H).
        solved: Whether that is the very one, not the nearest that is enumerated, shape (R + 1, H).
    """

    after: Ints
    solved: Bools


@dataclass(frozen=True)
class Blown:
    """Fuses that a fault has cost.

    Attributes:
        fuses: Which are open under each hypothesis, shape (H, F).
        cause: The cause that an open fuse is by itself, -1 where there is none, shape (F,).
    """

    fuses: Bools
    cause: Ints


def left_after(restores: Restores, severities: Ints, blown: Blown | None = None) -> Left:
    """What each repair leaves of each hypothesis.

    A single fault that is left of a larger set stands in the middle one of that set's coarse severities.  What is not
    enumerated, a whole place but for some of its parts, counts as not repaired.

    Args:
        restores: Which repair cures which cause, and the hypotheses.
        severities: First and one past the last severity of each member, shape (H, K, 2).
        blown: Fuses that stay open when what blew them is mended; None where each is replaced along with it.
    """
    members = restores.members
    index = {frozenset(_held(members[h], severities[h])): h for h in range(SPECIALS, len(members))}
    after = np.tile(np.arange(len(members)), (len(restores.cures) + 1, 1))
    solved = np.ones(after.shape, dtype=bool)
    cured = np.pad(restores.cures, ((0, 0), (0, 1)))
    for repair, h in zip(*np.nonzero(cured[:, members].any(axis=2)), strict=True):
        keep = [held for held in _held(members[h], severities[h]) if not cured[repair, held[0]]]
        left = _found(keep, index)
        if blown is not None and left is not None:
            still = [c for c in blown.cause[blown.fuses[h] & ~blown.fuses[left]].tolist() if not cured[repair, c]]
            new = sorted(set(still) - {-1} - {held[0] for held in keep})
            left = _found([*keep, *(_single(cause, members, severities) for cause in new)], index)
        after[repair, h], solved[repair, h] = (h, False) if left is None else (left, True)
    after[-1, AS_DESIGNED] = NONE
    return Left(after, solved)


def _held(members: Ints, severities: Ints) -> list[Member]:
    return [(int(c), int(a), int(b)) for c, (a, b) in zip(members, severities, strict=True) if c >= 0]


def _single(cause: int, members: Ints, severities: Ints) -> Member:
    """A cause as it stands alone."""
    row = SPECIALS + int(np.argmax(members[SPECIALS:, 0] == cause))
    return _held(members[row], severities[row])[0]


def _found(held: list[Member], index: dict[frozenset[Member], int]) -> int | None:
    """The hypothesis of these members, None where it is not enumerated."""
    if not held:
        return NONE
    if len(held) == 1:
        _, first, past = held[0]
        return SPECIALS + (first + past - 1) // 2  # singles come first, in the order of severities
    return index.get(frozenset(held))
