"""What is left of each hypothesis once a repair has been done."""

from __future__ import annotations

import numpy as np

from advisor.decision.expected import Restores
from advisor.network.worlds import AS_DESIGNED, NONE, SPECIALS, Ints


def left_after(restores: Restores, severities: Ints) -> Ints:
    """The hypothesis that each repair leaves of each, explaining last: shape (R + 1, H).

    A single fault that is left of a larger set stands in the middle one of that set's coarse severities.  What is not
    enumerated, a whole place but for some of its parts, counts as not repaired.

    Args:
        restores: Which repair cures which cause, and the hypotheses.
        severities: First and one past the last severity of each member, shape (H, K, 2).
    """
    members = restores.members
    index = {_key(members[h], severities[h]): h for h in range(SPECIALS, len(members))}
    after = np.tile(np.arange(len(members)), (len(restores.cures) + 1, 1))
    cured = np.pad(restores.cures, ((0, 0), (0, 1)))[:, members]  # cause -1: not cured
    for repair, h in zip(*np.nonzero(cured.any(axis=2)), strict=True):
        keep = ~cured[repair, h] & (members[h] >= 0)
        after[repair, h] = _left(members[h][keep], severities[h][keep], index, int(h))
    after[-1, AS_DESIGNED] = NONE
    return after


def _key(members: Ints, severities: Ints) -> frozenset[tuple[int, int, int]]:
    return frozenset((int(c), int(a), int(b)) for c, (a, b) in zip(members, severities, strict=True) if c >= 0)


def _left(members: Ints, severities: Ints, index: dict[frozenset[tuple[int, int, int]], int], own: int) -> int:
    if not len(members):
        return NONE
    if len(members) == 1:
        first, past = severities[0]
        return SPECIALS + (int(first) + int(past) - 1) // 2  # singles come first, in the order of severities
    return index.get(_key(members, severities), own)
