"""Are readings in proportion to the supply: solved at other supplies, against the solution at rest voltage scaled.

    cd tests && PYTHONPATH=..:. python -m bench.bench_supply

For every test and every single fault in every severity.  Volts, amperes and a motor's speed are scaled by the ratio of
the supplies, light by its 3.4th power, ohms not at all, as `knowledge/supply.py` does once the battery has been read.
The errors are also given as shares of the spread by which the reading is judged then: what follows the supply with
another power in the sound circuit is scaled with that one, and less sure.  A row whose drivers or fuses
stand otherwise at the other supply is counted by itself: nothing is in proportion across a threshold.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from bench.setting import show
from shipped_models import small_model

from advisor.knowledge.catalogue import Test
from advisor.knowledge.hypotheses import FaultSets, singles
from advisor.knowledge.predicted import Predicted
from advisor.knowledge.predicting import Predictor, Seen, setups
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.wiring import Wiring

SUPPLIES = (11.4, 13.2)
KNOWN = 0.003
"""Spread of the supply's scale once the battery has been read."""
COLUMNS = (
    "circuit",
    "supply",
    "reading",
    "rows x tests",
    "switched",
    "worst",
    "99 %",
    "worst / spread",
    "99 % / spread",
    "worst at",
)


@dataclass(frozen=True)
class Departures:
    """Errors of scaled readings.

    Attributes:
        tests: T tests.
        sets: H fault sets.
        error: Solved less scaled reading [V, A, decades, share], shape (H, T).
        spread: By which the reading is judged once the battery has been read, shape (H, T).
        same: Where drivers and fuses stand as at rest voltage, shape (H, T).
    """

    tests: tuple[Test, ...]
    sets: FaultSets
    error: np.ndarray
    spread: np.ndarray
    same: np.ndarray


def at_volts(wiring: Wiring, volts: float) -> Wiring:
    """The same wiring with another battery; everything else stays."""
    elements = tuple(replace(e, volts=volts) if e.kind == "source" else e for e in wiring.netlist.elements)
    return replace(wiring, netlist=replace(wiring.netlist, elements=elements))


def seen(wiring: Wiring, tests: tuple[Test, ...], sets: FaultSets) -> tuple[Seen, np.ndarray]:
    """What all tests show, and the switching state behind each as one number, shape (H, T)."""
    run = Predictor(wiring)
    latched = run.latched(sets)
    value, spread = np.zeros((len(sets), len(tests))), np.ones((len(sets), len(tests)))
    jumps = np.zeros_like(value)
    state = np.zeros((len(sets), len(tests)))
    for setup, chosen in setups(tests):
        group = [tests[i] for i in chosen]
        nodes = [(t.observed.red, t.observed.black) for t in group if t.observed.red]
        solution = run.solved(setup, sets, latched, nodes)
        found = run.observe(solution, group, sets)
        flags = np.concatenate([solution.on, solution.blown, solution.unsteady[:, None]], axis=1)
        value[:, chosen], spread[:, chosen], jumps[:, chosen] = found.value, found.spread, found.jumps
        state[:, chosen] = (flags @ 2.0 ** np.arange(flags.shape[1]))[:, None]
    return Seen(value, spread, jumps), state


def departures(circuit: str, volts: float) -> Departures:
    """Compare one circuit at one supply."""
    model = small_model(circuit)
    sets = singles(model.wiring.causes)
    tests = tuple(t for t in model.compiled.tests if t.kind != "inspect")
    usual, before = seen(model.wiring, tests, sets)
    other, after = seen(at_volts(model.wiring, volts), tests, sets)
    scaled, spread = np.zeros_like(usual.value), np.zeros_like(usual.value)
    known, width = np.array([volts / model.supply_volts]), np.array([KNOWN])
    for i, test in enumerate(tests):
        bend = float(model.compiled.bend[model.compiled.tests.index(test)])
        column = np.column_stack([usual.value[:, i], usual.spread[:, i], usual.jumps[:, i]])
        predicted = Predicted.of(test, model.instrument(test), model.full(test), column, "apart", bend, model.quiet)
        value, wide = predicted.at(known, width)
        scaled[:, i], spread[:, i] = value[predicted.row, 0], wide[predicted.row, 0]
    return Departures(tests, sets, other.value - scaled, spread, before == after)


def rows(circuit: str, volts: float) -> list[tuple[object, ...]]:
    """One line for each kind of reading."""
    found, model = departures(circuit, volts), small_model(circuit)
    kinds = {
        "V": "volts [V]",
        "A": "amps [A]",
        "ohm": "ohms [decades]",
        "lamp": "light [share]",
        "motor": "speed [share]",
    }
    names = np.array([t.unit or ("motor" if t.observed.motor else "lamp") for t in found.tests])
    lines = []
    for name in (n for n in kinds if (names == n).any()):
        error, same = np.abs(found.error[:, names == name]), found.same[:, names == name]
        share = np.where(same, error / found.spread[:, names == name], 0.0)
        row, column = np.unravel_index(share.argmax(), share.shape)
        cause = int(found.sets.members[row, 0])
        where = (
            f"{model.wiring.causes[cause].id if cause >= 0 else 'sound'}, "
            + [t.id for t, n in zip(found.tests, names, strict=True) if n == name][column]
        )
        kept, shares = error[same], share[same]
        figures = (
            float(kept.max()),
            float(np.quantile(kept, 0.99)),
            float(shares.max()),
            float(np.quantile(shares, 0.99)),
        )
        lines.append((circuit, volts, kinds[name], error.size, int((~same).sum()), *figures, where))
    return lines


def main() -> None:
    """Print the table."""
    lines = [line for circuit in shipped_circuits() for volts in SUPPLIES for line in rows(circuit, volts)]
    show("Readings scaled with the supply against readings solved at it", COLUMNS, lines)


if __name__ == "__main__":
    main()
