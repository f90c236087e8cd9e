"""What is learned: a factor for each cause, one for each part type, and one for climates and groups of vehicles.

The factor on a cause's rate is the product of its own and its part type's, and of those of the vehicle's climate and
group; each is a gamma variable of mean 1 before any order.  A part that several circuits share has one factor.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import sparse  # type: ignore[import-untyped]  # it ships no types

from advisor.knowledge.documents import Schematic
from advisor.knowledge.model import Model
from advisor.network.worlds import Floats, Ints
from advisor.refit.terms import Terms

SHAPES: Mapping[str, float] = {"cause": 4.0, "type": 8.0, "climate": 8.0, "group": 8.0}
"""Gamma shape of each kind of factor: over all a log-normal spread of .65 of a cause's rate, a ratio of about 3 between
its 95 % point and its median.  Published error factors of failure rates are 3 to 10 (from memory): judgement."""
KINDS = tuple(SHAPES)


@dataclass(frozen=True)
class Coordinate:
    """One factor: its kind (cause, type, climate, group), whose it is, and how it is shown."""

    kind: str
    key: tuple[str, ...]
    shown: str


@dataclass(frozen=True)
class Context:
    """What beside age and hours tells vehicles apart: their group and climate, "" where not known."""

    vehicle_group: str = ""
    climate: str = ""


@dataclass(frozen=True, eq=False)
class Coordinates:
    """All factors of some circuits under some contexts.

    Attributes:
        terms: By circuit, in their order.
        contexts: X of them.
    """

    terms: Mapping[str, Terms]
    contexts: tuple[Context, ...]

    @cached_property
    def offsets(self) -> Mapping[str, int]:
        """Where the terms of each circuit begin."""
        ends = np.cumsum([0, *(2 * terms.sets for terms in self.terms.values())])
        return dict(zip(self.terms, ends[:-1].tolist(), strict=True))

    @cached_property
    def all(self) -> tuple[Coordinate, ...]:
        """The J factors, kind by kind."""
        rows = [
            coordinate
            for terms in self.terms.values()
            for context in self.contexts
            for own in _of_model(terms.model, context)
            for coordinate in own
        ]
        return tuple(sorted(dict.fromkeys(rows), key=lambda c: KINDS.index(c.kind)))

    @cached_property
    def _index(self) -> Mapping[Coordinate, int]:
        return {coordinate: place for place, coordinate in enumerate(self.all)}

    @cached_property
    def block(self) -> Ints:
        """Number of each factor's kind, shape (J,)."""
        return np.array([KINDS.index(c.kind) for c in self.all], dtype=np.intp)

    def context(self, vehicle_group: str, climate: str) -> int:
        """Number of the context of a vehicle."""
        groups, climates = (any(getattr(c, n) for c in self.contexts) for n in ("vehicle_group", "climate"))
        return self.contexts.index(Context(vehicle_group if groups else "", climate if climates else ""))

    def shape(self, firmer: float = 1.0) -> Floats:
        """Gamma shape of each factor, shape (J,), so many times as firm as the usual one."""
        return np.array([SHAPES[c.kind] * firmer for c in self.all])

    def of_causes(self, circuit: str, context: Context = Context()) -> sparse.csr_array:
        """1 where a factor multiplies the rate of a cause, shape (C, J)."""
        rows = _of_model(self.terms[circuit].model, context)
        cells = [(cause, self._index[c]) for cause, own in enumerate(rows) for c in own if c in self._index]
        at = np.array(cells, dtype=np.intp).reshape(-1, 2).T
        return sparse.csr_array((np.ones(at.shape[1]), (at[0], at[1])), shape=(len(rows), len(self.all)))

    @cached_property
    def degrees(self) -> tuple[sparse.csr_array, ...]:
        """How often each factor multiplies each term, shape (T, J), by context."""
        return tuple(
            sparse.csr_array(
                sparse.vstack([t.degrees @ self.of_causes(name, context) for name, t in self.terms.items()])
            )
            for context in self.contexts
        )


def _of_model(model: Model, context: Context) -> list[list[Coordinate]]:
    """The factors of each cause."""
    schematic, found = model.schematic, []
    for cause in model.wiring.causes:
        kind = model.wiring.items[cause.part].type
        own = [
            Coordinate("cause", (_drawn_in(schematic, cause.part), cause.id), cause.id),
            Coordinate("type", (kind.id,), kind.id),
        ]
        if context.climate and kind.hazard.grows_with == "years":
            own.append(Coordinate("climate", (context.climate,), f"{context.climate}: wires, contacts, grounds"))
        if context.vehicle_group:
            own.append(Coordinate("group", (context.vehicle_group, kind.id), f"{context.vehicle_group}: {kind.id}"))
        found.append(own)
    return found


def _drawn_in(schematic: Schematic, part: str) -> str:
    """The file that draws a part; what the vehicle's file draws is one part for all circuits."""
    for drawn in (schematic.parts, schematic.wires, schematic.splices, schematic.grounds, schematic.connectors):
        found = drawn.get(part) or drawn.get(part.partition("/")[0])
        if found is not None:
            return found.at.file
    return schematic.id


def contexts_of(rows: Sequence[tuple[str, str]]) -> list[Context]:
    """Context of each (vehicle group, climate); what never differs tells nothing and is left out.

    >>> contexts_of([("", "wet"), ("", "wet")])[0], contexts_of([("", "wet"), ("", "salted")])[1]
    (Context(vehicle_group='', climate=''), Context(vehicle_group='', climate='salted'))
    """
    groups, climates = ({row[place] for row in rows} for place in (0, 1))
    return [Context(g if len(groups) > 1 else "", c if len(climates) > 1 else "") for g, c in rows]
