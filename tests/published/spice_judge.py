"""The outside judge: operating points of many solutions as ngspice finds them, and what is compared with them.

Many copies of a circuit stand side by side in one deck, each under its own prefix, so that one process judges
hundreds of operating points.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np

from advisor.circuit.netlist import Change
from advisor.circuit.solve import FUSE_OPENS_ABOVE, Solution, solve
from advisor.circuit.spice import OPTIONS, cards, deck, node_name
from advisor.knowledge.candidates import Candidates
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.hypotheses import FaultSets, singles
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.wiring import wire_up

# Agreement that is asked for on every node that something holds.
ABSOLUTE_VOLTS, RELATIVE = 1e-3, 1e-4
# A node counts as floating where its output resistance to battery negative exceeds this.  Its voltage is then set by
# less than 1e-7 S, the order of the 1e-9 S leaks themselves, while the matrix holds contacts of 1e3 S: rounding of
# 1e-16 of those is 1e-13 S, some 1e-4 of a leak, and of 12.6 V that is millivolts.  Both programs round differently,
# so what is asked there is only that neither invents a voltage that a 0.01 V meter of 10 Mohm would show.
FLOATING_ABOVE_OHMS = 10e6
FLOATING_VOLTS = 20e-3
# Where a comparison stands on the edge of a threshold, millivolts decide nothing.
EDGE_VOLTS = 5e-3
_COPIES = 40
_SOON_SECONDS, _AT_MOST_SECONDS = 20, 120
# What hangs on a lamp behind kilohms is rounded by thousands of siemens' worth: a nanoampere there is microvolts.
LOOSER = tuple(f".options reltol=1e-8 abstol={amps} vntol=1e-7 itl1=500" for amps in ("1e-12", "1e-9"))
_PROGRAM = "ngspice"


def ngspice() -> str | None:
    """Return the path of the judge, None where it is not installed."""
    return shutil.which(_PROGRAM)


def version() -> str:
    """Return the judge's name and version."""
    text = subprocess.run([_PROGRAM, "--version"], capture_output=True, text=True, check=True).stdout
    return re.search(r"ngspice-[\d.]+", text)[0]


def judged(solution: Solution) -> np.ndarray:
    """Return every row's node voltages as ngspice finds them [V], shape (B, N)."""
    rows = len(solution.volts)
    return np.concatenate([_run(solution, range(a, min(a + _COPIES, rows))) for a in range(0, rows, _COPIES)])


def alone(solution: Solution, row: int, title: str) -> np.ndarray:
    """Return one row's node voltages from its own deck, run exactly as written [V], shape (N,)."""
    found = _simulate(deck(solution, row, title))
    return np.array([found[f"v({node_name(solution.netlist, node)})"] for node in solution.netlist.nodes])


def _run(solution: Solution, rows: range) -> np.ndarray:
    lines = [line for row in rows for line in cards(solution, row, f"c{row}_") if not line.startswith("*")]
    text = "\n".join(["* copies side by side", *lines, OPTIONS, ".op", ".end", ""])
    found = _attempt(text, _SOON_SECONDS) if len(rows) > 1 else _simulate(text)
    if not found and len(rows) > 1:  # one copy that settles slowly makes all wait for it
        middle = len(rows) // 2
        return np.concatenate([_run(solution, rows[:middle]), _run(solution, rows[middle:])])
    assert found, f"row {rows[0]} did not settle"
    names = [[f"v({node_name(solution.netlist, n, f'c{row}_')})" for n in solution.netlist.nodes] for row in rows]
    return np.array([[found[name] for name in row] for row in names])


def _simulate(text: str) -> dict[str, float]:
    """Run one deck as written; where that does not settle, with tolerances still far below a millivolt.

    An island of low resistances that hangs on a meter alone is rounded by more than the deck's own tolerances.
    """
    tried = (_attempt(text.replace(OPTIONS, options)) for options in (OPTIONS, *LOOSER))
    return next(filter(None, tried), {})


def _attempt(text: str, seconds: float = _AT_MOST_SECONDS) -> dict[str, float]:
    """Run one deck in a process of its own; its operating point by name, nothing if it did not settle in time."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "deck.cir").write_text(text, encoding="ascii")
        try:
            run = subprocess.run(
                [_PROGRAM, "-b", "-r", "out.raw", "deck.cir"],
                cwd=folder,
                env={**os.environ, "SPICE_ASCIIRAWFILE": "1"},
                capture_output=True,
                text=True,
                check=False,
                timeout=seconds,
            )
        except subprocess.TimeoutExpired:
            return {}
        raw = Path(folder, "out.raw")
        assert raw.is_file(), run.stdout[-2000:] + run.stderr[-2000:]
        return _read_raw(raw.read_text(encoding="ascii"))


def _read_raw(text: str) -> dict[str, float]:
    """Read the one point of an ASCII raw file: a list of variables, then the point's values in the same order."""
    head, _, values = text.partition("Values:\n")
    names = [line.split()[1] for line in head.partition("Variables:\n")[2].splitlines() if line.strip()]
    numbers = values.split()[1:]  # the first is the point's number
    return dict(zip(names, map(float, numbers), strict=True))


@dataclass(frozen=True)
class Bench:
    """One shipped circuit: its predictor, every single fault in every severity, and what fuses they cost before."""

    id: str
    run: Predictor
    sets: FaultSets
    latched: np.ndarray

    def solved(self, setup: Setup, rows: Sequence[int] | slice = slice(None)) -> Solution:
        """Solve some rows of the fault sets under one setup, output resistances of all nodes included."""
        netlist = self.run.wiring.under(setup)
        part = np.arange(len(self.sets))[rows]
        chosen = FaultSets(
            self.sets.members[part],
            self.sets.severities[part],
            tuple(self.sets.changes[i] for i in part),
            np.zeros((len(part), 4), dtype=np.intp),
        )
        return self.run.solved(setup, chosen, self.latched[part], netlist.nodes)

    def doubles(self, count: int, rng: np.random.Generator) -> Iterator[tuple[Setup, Solution]]:
        """Solve at least `count` random pairs of faults of different parts, spread evenly over all setups."""
        setups = self.setups()
        for setup in setups:
            netlist = self.run.wiring.under(setup)
            pairs = list(islice(self._pairs(rng), -(-count // len(setups))))
            yield setup, solve(netlist, pairs, netlist.nodes)

    def _pairs(self, rng: np.random.Generator) -> Iterator[list[Change]]:
        """Yield changes of two faults of different parts, severities at random, without end."""
        causes = self.run.wiring.causes
        while True:
            first, second = (causes[i] for i in rng.choice(len(causes), 2, replace=False))
            if first.part != second.part:
                yield [c for cause in (first, second) for c in cause.variants[rng.integers(len(cause.variants))]]

    def setups(self) -> list[Setup]:
        """Every setup that some generated test or some normal condition has, each once."""
        tests = Candidates(self.run.wiring).tests()
        normal = [Setup(self.run.wiring.usual(n.when)) for n in self.run.schematic.normal.values()]
        every = [*normal, *(test.setup for test in tests)]
        return list({s.key: s for s in reversed(every)}.values())[::-1]

    def fault(self, row: int) -> tuple[str, int]:
        """Name the cause of one row and its severity, counted from 0; an empty name is the sound circuit."""
        cause = int(self.sets.members[row, 0])
        if cause < 0:
            return "", 0
        return self.run.wiring.causes[cause].id, row - int(np.argmax(self.sets.members[:, 0] == cause))

    def row(self, cause: str, severity: int) -> int:
        """Find the row that `fault` names."""
        ids = [c.id for c in self.run.wiring.causes]
        return int(np.argmax(self.sets.members[:, 0] == ids.index(cause))) + severity if cause else 0


def bench(circuit: str) -> Bench:
    """Read one shipped circuit and put every single fault in."""
    run = Predictor(wire_up(read_schematic(shipped_circuits()[circuit])))
    sets = singles(run.wiring.causes)
    return Bench(circuit, run, sets, run.latched(sets))


def allowed(solution: Solution, judge_volts: np.ndarray) -> np.ndarray:
    """Return how far each node may be from the judge's voltage [V], shape (B, N)."""
    held = np.maximum(ABSOLUTE_VOLTS, RELATIVE * np.abs(judge_volts))
    own = np.stack([solution.between(node, solution.netlist.reference)[1] for node in solution.netlist.nodes], axis=1)
    return np.where(own > FLOATING_ABOVE_OHMS, FLOATING_VOLTS, held)


def against(solution: Solution) -> list[str]:
    """List what the judge finds wrong with a solution: voltages, then switching states."""
    volts = judged(solution)
    return departures(solution, volts) + inconsistent(solution, volts)


def departures(solution: Solution, judge_volts: np.ndarray) -> list[str]:
    """List every node of every row on which the solver and the judge disagree."""
    own, nodes = solution.volts, solution.netlist.nodes
    return [
        f"row {row}, {nodes[node]}: {own[row, node]:.6f} V, not {judge_volts[row, node]:.6f} V"
        for row, node in np.argwhere(np.abs(own - judge_volts) > allowed(solution, judge_volts))
    ]


def inconsistent(solution: Solution, judge_volts: np.ndarray) -> list[str]:
    """List switching states that the judge's voltages contradict.

      No whole fuse carries more than its limit, and every driver is as its unit's inputs and supply, or its
    relay's coil, ask.  A row in
      which a fault keeps a unit resetting has no consistent state; only its fuses are looked at.
    """
    netlist = solution.netlist
    padded = np.pad(judge_volts, ((0, 0), (0, 1)))
    found = []
    a, b = netlist.ends
    for position, fuse in enumerate(netlist.of_kind("fuse")):
        amps = np.abs(padded[:, a[fuse]] - padded[:, b[fuse]]) / solution.ohms[:, fuse]
        over = ~solution.blown[:, position] & (amps > FUSE_OPENS_ABOVE * netlist.elements[fuse].amps * (1 + RELATIVE))
        found += [f"row {row}: {netlist.elements[fuse].id} carries {amps[row]:.3g} A" for row in np.flatnonzero(over)]
    for row in np.flatnonzero(~solution.unsteady):
        found += [f"row {row}: {words}" for words in _drivers_off(solution, row, padded[row])]
    return found


def _drivers_off(solution: Solution, row: int, volts: np.ndarray) -> list[str]:
    """Judge one row's drivers one by one, in plain words; a level within EDGE_VOLTS of its threshold may be either."""
    netlist = solution.netlist
    index = netlist.node_index
    drivers = {
        netlist.elements[d].id: bool(on) for d, on in zip(netlist.of_kind("driver"), solution.on[row], strict=True)
    }
    found = []
    for unit in netlist.units:
        ground = volts[index[unit.ground]]
        margins = {"": volts[index[unit.supply]] - ground - unit.works_above_volts}
        margins |= {i.name: volts[index[i.node]] - ground - i.low_below_volts for i in unit.inputs}
        if min(map(abs, margins.values())) < EDGE_VOLTS:
            continue
        levels = {name: "low" if margin < 0 else "high" for name, margin in margins.items() if name}
        for output in unit.outputs:
            wanted = bool(margins[""] >= 0 and output.on_when.holds({**netlist.settings, **levels}))
            if wanted != drivers[output.driver]:
                found.append(f"{output.driver} is {drivers[output.driver]} at {margins}")
    for relay in netlist.relays:
        coil = netlist.elements[netlist.element_index[relay.coil]]
        ohms = solution.ohms[row, netlist.element_index[relay.coil]]
        # What the current is worth on a sound coil.
        margin = abs(volts[index[coil.a]] - volts[index[coil.b]]) * coil.ohms / ohms - relay.operates_above_volts
        held = margin + relay.operates_above_volts - min(relay.lets_go_below_volts, relay.operates_above_volts)
        if drivers[relay.driver] and margin < 0.0:
            margin = held  # below what pulls it in it may only be held
        if abs(margin) >= EDGE_VOLTS and (margin > 0) != drivers[relay.driver]:
            found.append(f"{relay.driver} is {drivers[relay.driver]} at {margin} above its threshold")
    for diode in netlist.diodes:
        part = netlist.elements[netlist.element_index[diode]]
        margin = volts[index[part.a]] - volts[index[part.b]]
        if abs(margin) >= EDGE_VOLTS and (margin > 0) != drivers[diode]:
            found.append(f"{diode} is {drivers[diode]} with {margin} V across it")
    return found
