"""From tables to a model: fault sets, what each would show, and a `Model` without physics."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from advisor.circuit.netlist import Netlist
from advisor.knowledge.cache import content_hash
from advisor.knowledge.candidates import BESIDE_RESTRAINT, RESTRAINT
from advisor.knowledge.catalogue import LOOKING, Outcome, Setup, Test, Withheld
from advisor.knowledge.compiled import Compiled
from advisor.knowledge.compiling import HYPOTHESES
from advisor.knowledge.documents import Place, Schematic
from advisor.knowledge.model import Model
from advisor.knowledge.places import cautions_at, path
from advisor.knowledge.prevalence import Vehicle, notice_days, prevalence
from advisor.knowledge.supply import POST, Axis, Supply
from advisor.knowledge.tables import Chances, Condition, Tables, TableTest
from advisor.knowledge.tabulated import Tabulated, noisy_max
from advisor.knowledge.wiring import Cause, Item, Wiring, cause_part
from advisor.network.nodes import Network, as_nodes, restricted
from advisor.network.priors import Prior, odds
from advisor.network.worlds import Worlds

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

TOGETHER = 3
"""Causes that a fault set may hold: without physics a set of three costs no more than one."""
_TABULAR = "table"
"""Kind of the tests of a table."""
_ALONE = Axis(np.ones(1), np.zeros(1), np.array([POST]), np.ones(1))


@dataclass(frozen=True, eq=False, kw_only=True)  # known by identity, as every model
class TableModel(Model):
    """A model of tables: no reading in it stands on a supply, and its findings share nothing.

    Attributes:
        chances: P(outcome | hypothesis) of each test by its id, shape (H, O).
    """

    chances: Mapping[str, Floats]

    @cached_property
    def predicted(self) -> Mapping[str, Tabulated]:
        """Chances of every test by its id."""
        return {test.id: Tabulated.of(test, self.chances[test.id], self.quiet) for test in self.compiled.tests}

    @property
    def axis(self) -> Axis:
        """The one state that there is."""
        return _ALONE

    @property
    def coarse_axis(self) -> Axis:
        """The same."""
        return _ALONE

    @property
    def battery_tests(self) -> frozenset[str]:
        """No test reads the battery."""
        return frozenset()

    def worlds_at(self, states: Floats) -> Worlds:
        """The network's arrays, whatever is known of the supply."""
        return self.worlds

    def supply(self, states: Floats) -> Supply | None:
        """No supply."""
        return None

    def network(self, root: Prior, kept: Ints) -> Network:
        """The network of some hypotheses; there is nothing that findings share."""
        return as_nodes(*restricted(self.worlds, root, kept), self.intake)


def table_model(tables: Tables, hypotheses: int = HYPOTHESES) -> TableModel:
    """Make a model of tables, of about `hypotheses` fault sets at most."""
    began = time.perf_counter()
    wiring = unwired(tables.schematic)
    index = {cause.id: number for number, cause in enumerate(wiring.causes)}
    singles = np.arange(len(index))[:, None]
    o = odds(
        prevalence(wiring, notice_days(tables.schematic, _presence(tables, index, singles)), Vehicle()),
        cause_part(wiring),
    )
    members = fault_sets(o, cause_part(wiring), hypotheses)
    chances = {
        test.id: noisy_max(_row(test.leak, test), {index[c]: _row(row, test) for c, row in test.given.items()}, members)
        for test in tables.tests.values()
    }
    places = tables.schematic.places
    tests = tuple(
        as_test(test, tables.conditions[test.condition], _row(test.leak, test), tables.schematic.places)
        for test in tables.tests.values()
        if not refused(test, places)
    )
    compiled = Compiled(
        tests=tests,
        withheld=tuple(withheld(tables.tests.values(), places)),
        causes=tuple(index),
        members=members,
        severities=np.where(members[:, :, None] >= 0, members[:, :, None] + np.arange(2), 0),
        value=np.zeros((len(members), 0)),
        spread=np.zeros((len(members), 0)),
        jumps=np.zeros((len(members), 0)),
        presence=_presence(tables, index, members),
        jumper_amps=np.zeros((len(members), len(tests))),
        seconds={"fault sets and their chances": time.perf_counter() - began},
    )
    return TableModel(tables.schematic, wiring, compiled, content_hash(tables.schematic.files), chances=chances)


def unwired(schematic: Schematic) -> Wiring:
    """What can fail, and how, with no element drawn."""
    types = schematic.library.types
    items = {part.id: Item(part.id, types[part.type], part.title, part.place) for part in schematic.parts.values()}
    causes = tuple(Cause(item.id, mode, ((),)) for item in items.values() for mode in item.type.modes)
    return Wiring(schematic, Netlist(schematic.reference, (), (), {}), {}, {}, {}, items, causes)


def fault_sets(o: Floats, part: Ints, most: int) -> Ints:
    """Causes of each hypothesis, -1 where fewer, shape (H, K): the special ones, all singles, then larger sets.

    Smaller sets come first and likelier ones first among those of a size, so that the sets are closed under removal.

    Args:
        o: Odds of each cause, shape (C,).
        part: Index of its part, shape (C,).
        most: About how many sets in all.
    """
    together = min(TOGETHER, len(set(part.tolist())))
    rows: list[tuple[int, ...]] = [(), (), (), *((cause,) for cause in range(len(o)))]
    for size in range(2, together + 1):
        room = max(most - len(rows), 0)
        sets = [each for each in combinations(range(len(o)), size) if len(set(part[list(each)].tolist())) == size]
        sets.sort(key=lambda each: (-float(o[list(each)].prod()), each))
        rows += sets[:room]
        if len(sets) >= room:
            break
    return np.array([(*row, *[-1] * (together - len(row))) for row in rows], dtype=np.intp)


def _presence(tables: Tables, index: Mapping[str, int], members: Ints) -> Floats:
    """P(symptom shows | hypothesis), shape (H, S): noisy-OR whose leak is what intake says of a sound vehicle."""
    columns = [
        noisy_max((1.0, 0.0), {index[cause]: (1.0 - chance, chance) for cause, chance in row.given.items()}, members)
        for row in tables.symptoms.values()
    ]
    return np.stack([column[:, 1] for column in columns], axis=1)


def _row(chances: Chances, test: TableTest) -> list[float]:
    return [chances[outcome] for outcome in test.outcomes]


class Described(Protocol):
    """A test as a file without a schematic describes it."""

    @property
    def id(self) -> str:
        """Its id."""

    @property
    def title(self) -> str:
        """What a person reads."""

    @property
    def place(self) -> str:
        """Where it is done."""

    @property
    def instrument(self) -> str:
        """What with."""

    @property
    def minutes(self) -> float:
        """How long it takes [min]."""

    @property
    def disturbing(self) -> bool:
        """Whether it moves a contact."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to mind."""

    @property
    def labels(self) -> Mapping[str, str]:
        """What a person reads of each outcome, by its id."""


def refused(test: Described, places: Mapping[str, Place]) -> str:
    """Why a test is never proposed, or nothing: no hand goes to a restraint, none moves contacts on the way to one."""
    if test.instrument == LOOKING:
        return ""
    if places[test.place].restraint:
        return RESTRAINT
    on_the_way = {step for place in places.values() if place.restraint for step in path(places, place.id)}
    return BESIDE_RESTRAINT if test.disturbing and test.place in on_the_way else ""


def withheld(tests: Iterable[Described], places: Mapping[str, Place]) -> Iterator[Withheld]:
    """The tests that are never proposed, each with the reason."""
    for test in tests:
        if reason := refused(test, places):
            yield Withheld(test.id, test.title, reason)


def as_test(test: Described, condition: Condition, sound: Sequence[float], places: Mapping[str, Place]) -> Test:
    """The test as every front end knows it; its outcomes are places in their order.

    Args:
        test: As its file describes it.
        condition: Under which it is done.
        sound: P(outcome) where nothing is wrong.
        places: Where things sit, with their cautions.
    """
    last = len(test.labels) - 1
    outcomes = tuple(
        Outcome(id, label, i - 0.5 if i else -np.inf, i + 0.5 if i < last else np.inf)
        for i, (id, label) in enumerate(test.labels.items())
    )
    return Test(
        id=test.id,
        kind=_TABULAR,
        title=test.title,
        place=test.place,
        probe=(),
        instrument=test.instrument,
        setup=Setup(condition.when),
        condition=condition.id,
        condition_text=condition.text,
        minutes=test.minutes,
        disturbing=test.disturbing,
        unit="",
        outcomes=outcomes,
        normal_value=float(np.argmax(sound)),
        cautions=tuple(dict.fromkeys((*condition.cautions, *test.cautions, *cautions_at(places, test.place)))),
    )
