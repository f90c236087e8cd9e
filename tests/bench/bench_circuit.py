"""Operating points per second: ours, all rows of one setup at once, against ngspice's own `op` in one process.

Compared is what each needs from conductances to node voltages.  Ours: `solve` of one normal condition, every single
fault in every severity as one row, fuses and drivers switched to rest, no probes.  ngspice: one process reads the
deck of one of these rows, switches already at rest as we found them, and alternates `alter` of one resistance,
`op` and `destroy` of its results in a loop; the time of the whole process over the number of points, its start
included, median over five rows.
Ours therefore also finds the switching states, and also goes from faults to conductances.  What belongs to the circuit
and the condition alone (the order of elimination, the sound circuit's switching states) is made before, as a compile
does it once for all fault sets.

The last columns are ours again with many more rows in one call, pairs of faults in the same condition, beside the same
rate of ngspice, which gains nothing from more.  "To a plain loop" is the ratio to the same loop of 2,000 points without
`destroy`: ngspice keeps each point's results as it does by itself, and slows down with every one.
"""

from __future__ import annotations

import re
import subprocess
import tempfile
import time
from itertools import combinations
from pathlib import Path

import numpy as np
from bench.setting import median_seconds, ngspice_version, show

from advisor.circuit.netlist import Netlist
from advisor.circuit.solve import Solution
from advisor.circuit.spice import OPTIONS, cards, node_name
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.hypotheses import FaultSets, blocks, singles
from advisor.knowledge.predicting import Predictor
from advisor.knowledge.reader import read_schematic
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.wiring import wire_up

KEPT = 2000
"""Points of the plain loop, that of a person who writes `alter` and `op` and reads the results afterwards."""
STACKED = 20
"""How many times as many rows the larger batch has."""


def measured(path: Path, rows: int, points: int) -> tuple[object, ...]:
    """Measure one circuit: rows solved at once by us, `points` operating points by ngspice."""
    run = Predictor(wire_up(read_schematic(path)))
    sets = _first(singles(run.wiring.causes), rows)
    setup = Setup(run.wiring.usual(next(iter(run.schematic.normal.values())).when))
    latched = run.latched(sets)
    ours = _seconds(run, setup, sets)
    causes = run.wiring.causes
    both = [p for p in combinations(range(len(causes)), 2) if causes[p[0]].part != causes[p[1]].part]
    stacked = _first(blocks(causes, both[: STACKED * len(sets)]), STACKED * len(sets))
    many = _seconds(run, setup, stacked)
    solution = run.solved(setup, sets, latched, ())
    theirs, difference = _ngspice(solution, points)
    kept = _op_loop(solution, len(sets) // 2, KEPT, "* kept")[0] / KEPT
    return (
        path.stem,
        len(solution.netlist.nodes),
        len(sets),
        1.0 / ours,
        1.0 / theirs,
        theirs / ours,
        kept / ours,
        len(stacked),
        1.0 / many,
        theirs / many,
        1e3 * difference,
    )


def _seconds(run: Predictor, setup: Setup, sets: FaultSets) -> float:
    """Seconds a row of ours."""
    latched = run.latched(sets)
    return median_seconds(lambda: run.solved(setup, sets, latched, ()), 5) / len(sets)


def _first(sets: FaultSets, rows: int) -> FaultSets:
    """The first rows, or all of them."""
    kept = slice(0, rows)
    return FaultSets(sets.members[kept], sets.severities[kept], sets.changes[kept], sets.beside[kept])


def _ngspice(solution: Solution, points: int) -> tuple[float, float]:
    """Seconds per point, and the largest difference of a held node's voltage [V] over some rows."""
    rows = np.linspace(0, len(solution.volts) - 1, 5).astype(int)
    seconds, differences = [], []
    for row in rows:
        taken, volts = _op_loop(solution, int(row), points)
        seconds.append(taken / points)
        held = _held(solution, int(row))
        differences.append(np.abs(volts - solution.volts[row])[held].max())
    return float(np.median(seconds)), float(max(differences))


def _op_loop(solution: Solution, row: int, points: int, end: str = "destroy") -> tuple[float, np.ndarray]:
    """Run `points` operating points of one row in one process; the time of the whole process [s].

    Results kept make each point slower than the last, so each point's are destroyed unless `end` is something else.
    """
    netlist = solution.netlist
    lines = [line for line in cards(solution, row) if not line.startswith("*")]
    resistor = next(line.split() for line in lines if line.startswith("R") and "leak" not in line)
    loop = [
        ".control",
        f"repeat {points}",
        f"alter {resistor[0]} = {resistor[3]}",
        "op",
        end,
        "end",
        "op",
        "set numdgt=12",
        *[f"print v({node_name(netlist, node)})" for node in netlist.nodes],
        "quit",
        ".endc",
    ]
    text = "\n".join(["* one row over and over", *lines, OPTIONS, *loop, ".end", ""])
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "deck.cir").write_text(text, encoding="ascii")
        start = time.perf_counter()
        run = subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, capture_output=True, text=True, check=False)
        taken = time.perf_counter() - start
    found = dict(re.findall(r"^(v\(\w+\)) = (\S+)", run.stdout, re.M))
    assert found, run.stdout[-1500:] + run.stderr[-1500:]
    return taken, np.array([float(found[f"v({node_name(netlist, node)})"]) for node in netlist.nodes])


def _held(solution: Solution, row: int) -> np.ndarray:
    """Nodes that something holds: those that a path of less than 10 megohm joins to the battery's negative post."""
    netlist: Netlist = solution.netlist
    reached = {netlist.reference}
    ways = [(e.a, e.b) for e, ohms in zip(netlist.elements, solution.ohms[row], strict=True) if ohms < 1e7]
    while fresh := {n for way in ways for n in way if reached & set(way)} - reached:
        reached |= fresh
    return np.array([node in reached for node in netlist.nodes])


def table(rows: int = 10**6, points: int = 500, extra: tuple[Path, ...] = ()) -> list[tuple[object, ...]]:
    """Measure every shipped circuit, and others by their files."""
    return [measured(path, rows, points) for path in (*shipped_circuits().values(), *extra)]


def main() -> None:
    """Print the table."""
    columns = ("circuit", "nodes", "rows", "ours [points/s]", "ngspice [points/s]", "ratio", "to a plain loop")
    columns += ("pairs", "ours [points/s]", "ratio", "difference [mV]")
    show(
        "Operating points per second", columns, table(), "what is compared: see the top of this file", ngspice_version()
    )


if __name__ == "__main__":
    main()
