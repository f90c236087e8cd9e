"""One fixed table times a message of many cases, summed to what is wanted: by matrix products where they pay.

Tables of messages have an axis for each variable of their scope, in the order of elimination, and the cases last: what
is done to one case is done to its neighbours in memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from advisor.network.worlds import Floats

Scope = tuple[int, ...]
"""Variables by their place in the order of elimination, ascending."""

_CASES = 256
"""Cases for which the cheaper of two ways is chosen."""
_CALL_NS, _FLOP_NS, _ENTRY_NS = 700.0, 0.12, 1.1
"""Time of one matrix product besides its arithmetic, of a multiplication and addition in it, and of a multiplication
and addition outside of one [ns]; measured on one core of a 2 GHz server, only the way depends on them."""


Index = tuple[slice | None, ...]


def size(scope: Scope, cards: Sequence[int]) -> int:
    """Number of entries of a table of one case."""
    return prod(cards[each] for each in scope)


def spread(scope: Scope, over: Scope) -> Index:
    """The index that lays a table of a scope beside a larger scope, cases last."""
    return (*(slice(None) if each in scope else None for each in over), slice(None))


def joined(*scopes: Scope) -> Scope:
    """All variables of some scopes."""
    return tuple(sorted(set().union(*scopes)))


def without(scope: Scope, other: Sequence[int]) -> Scope:
    """The variables of a scope that are not in another."""
    return tuple(each for each in scope if each not in other)


@dataclass(frozen=True)
class Step:
    """A planned contraction: what it does to a message, and what that costs for one case.

    Attributes:
        run: From the message's table, its scope's axes and the cases, to the wanted one.
        entries: Numbers that it touches outside of matrix products, for one case.
        products: Multiplications inside of matrix products, for one case.
    """

    run: Callable[[Floats], Floats]
    entries: int = 0
    products: int = 0

    @staticmethod
    def nothing() -> Step:
        """Leave a message as it is."""
        return Step(lambda message: message)


def plan(fixed: Floats | None, own: Scope, scope: Scope, wanted: Scope, cards: Sequence[int]) -> Step:
    """Plan the sum of a fixed table times a message, over all that is not wanted.

    Args:
        fixed: The fixed table, an axis for each variable of `own`; None stands for ones.
        own: Its scope.
        scope: The message's.
        wanted: The result's, within the two.
        cards: Number of states of each variable.
    """
    lonely = tuple(i for i, each in enumerate(scope) if each not in wanted and each not in own)
    if lonely:
        rest = tuple(each for i, each in enumerate(scope) if i not in lonely)
        inner = plan(fixed, own, rest, wanted, cards)
        entries = inner.entries + size(scope, cards)
        return Step(lambda message: inner.run(np.add.reduce(message, lonely)), entries, inner.products)
    if fixed is None:
        return Step.nothing()
    alone = tuple(i for i, each in enumerate(own) if each not in wanted and each not in scope)
    fixed = fixed.sum(axis=alone)
    own = tuple(each for i, each in enumerate(own) if i not in alone)
    return _cheaper(_by_entries(fixed, own, scope, wanted, cards), _by_products(fixed, own, scope, wanted, cards))


def _cheaper(entries: Step, products: tuple[Step, int] | None) -> Step:
    if products is None:
        return entries
    other, calls = products
    by_products = calls * _CALL_NS + _CASES * (other.products * _FLOP_NS + other.entries * _ENTRY_NS)
    return other if by_products < _CASES * entries.entries * _ENTRY_NS else entries


def _by_entries(fixed: Floats, own: Scope, scope: Scope, wanted: Scope, cards: Sequence[int]) -> Step:
    """Multiply entry by entry, then add up."""
    every = joined(own, scope)
    table = np.ascontiguousarray(fixed)[spread(own, every)[:-1]][..., None]
    laid, axes = spread(scope, every), tuple(i for i, each in enumerate(every) if each not in wanted)
    entries = size(every, cards)
    if not axes:
        return Step(lambda message: table * message[laid], entries)
    return Step(lambda message: np.add.reduce(table * message[laid], axes), 2 * entries)


def _by_products(
    fixed: Floats, own: Scope, scope: Scope, wanted: Scope, cards: Sequence[int]
) -> tuple[Step, int] | None:
    """A matrix product for each state of what is in all three; None where nothing is summed."""
    shared = tuple(each for each in own if each in scope and each in wanted)
    summed = tuple(each for each in own if each in scope and each not in wanted)
    rows, columns = without(own, scope), without(scope, own)
    if not summed:
        return None
    z, k, r, c = (size(part, cards) for part in (shared, summed, rows, columns))
    matrix = np.ascontiguousarray(fixed.transpose([own.index(each) for each in (*shared, *rows, *summed)]))
    matrix = matrix.reshape(z, r, k)
    laid = [*(scope.index(each) for each in (*shared, *summed, *columns)), len(scope)]
    order = (*shared, *rows, *columns)
    shape, back = [cards[each] for each in order], [*(order.index(each) for each in wanted), len(order)]

    def run(message: Floats) -> Floats:
        """Lay the message out as matrices, multiply, and lay the result out as wanted."""
        cases = message.shape[-1]
        result: Floats = np.matmul(matrix, message.transpose(laid).reshape(z, k, c * cases))
        return result.reshape(*shape, cases).transpose(back)

    moved = 0 if laid == sorted(laid) else z * k * c
    return Step(run, moved, z * k * r * c), z
