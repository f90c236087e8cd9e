"""Every single fault of every circuit in every setup, judged by ngspice as it stands here.

cd tests && PYTHONPATH=..:. python -m bench.bench_ngspice
"""

from __future__ import annotations

import argparse
import time

from bench.setting import machine
from published.spice_judge import bench, departures, inconsistent, judged

from advisor.knowledge.shipped import shipped_circuits


def main() -> None:
    """Print for each circuit the rows that were judged and what departs."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--circuits", nargs="*", default=list(shipped_circuits()))
    for circuit in parser.parse_args().circuits:
        began, shelf, found, rows = time.perf_counter(), bench(circuit), [], 0
        for setup in shelf.setups():
            solution = shelf.solved(setup)
            volts, rows = judged(solution), rows + len(solution.volts)
            found += [f"{setup}: {text}" for text in departures(solution, volts) + inconsistent(solution, volts)]
        took = f"{time.perf_counter() - began:.0f} s"
        print(f"{circuit}: {rows} rows in {len(shelf.setups())} setups, {len(found)} depart, {took}")
        print(*found[:20], sep="\n")
    print(machine())


if __name__ == "__main__":
    main()
