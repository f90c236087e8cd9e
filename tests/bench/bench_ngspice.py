"""Every single fault of every circuit in every setup, and random pairs, judged by ngspice as it stands here.

cd tests && PYTHONPATH=..:. python -m bench.bench_ngspice
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterable

import numpy as np
from bench.setting import machine
from published.spice_judge import against, bench

from advisor.circuit.solve import Solution
from advisor.knowledge.catalogue import Setup
from advisor.knowledge.shipped import shipped_circuits

SEED = 20_240_307


def report(name: str, solved: Iterable[tuple[Setup, Solution]]) -> None:
    """Print how many rows were judged and what departs."""
    began, found, rows, setups = time.perf_counter(), [], 0, 0
    for setup, solution in solved:
        rows, setups = rows + len(solution.volts), setups + 1
        found += [f"{setup}: {text}" for text in against(solution)]
    took = f"{time.perf_counter() - began:.0f} s"
    print(f"{name}: {rows} rows in {setups} setups, {len(found)} depart, {took}")
    print(*found[:20], sep="\n", flush=True)


def main() -> None:
    """Print for each circuit the rows that were judged and what departs, single faults first, then pairs."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--circuits", nargs="*", default=list(shipped_circuits()))
    parser.add_argument("--doubles", type=int, default=500)
    asked = parser.parse_args()
    for circuit in asked.circuits:
        shelf, rng = bench(circuit), np.random.default_rng(SEED)
        report(f"{circuit}, single faults", ((setup, shelf.solved(setup)) for setup in shelf.setups()))
        report(f"{circuit}, pairs", shelf.doubles(asked.doubles, rng))
    print(machine())


if __name__ == "__main__":
    main()
