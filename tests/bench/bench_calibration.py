"""Is the model as often right as it says: the rich twin's vehicles, their tests, and the shares of the top cause.

    cd tests && PYTHONPATH=..:. python -m bench.bench_calibration --vehicles 10000

Printed for each circuit: how often the top cause is right, how often it says so, the calibration error in 15 bins of
equal mass with its bootstrap interval, what chance alone makes of it (floor), and the log loss; once for all vehicles
and once for those whose fault is one that the model knows, by the shares given that.  With --without, one thing after
another that the twin has beyond the model is left out.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import fields, replace

import numpy as np
from bench.setting import show
from calibration import Judged, bootstrap, calibration_error, floor, gap, judged
from twin_vehicles import Riches

import advisor
from advisor.knowledge.model import Model
from advisor.knowledge.shipped import shipped_circuits

SEED = 20_240_229
COLUMNS = ("vehicles", "n", "right", "stated", "gap", "s.e.", "ECE", "95 % interval", "floor", "its 95 %", "log loss")


def row(name: str, found: Judged, rng: np.random.Generator) -> tuple[object, ...]:
    """One line of the table."""
    difference, error = gap(found)
    low, high = bootstrap(found, rng)
    expected, most = floor(found, rng)
    return (
        name,
        len(found.stated),
        float(found.right.mean()),
        float(found.stated.mean()),
        difference,
        error,
        calibration_error(found.stated, found.right),
        f"{low:.4f} to {high:.4f}",
        expected,
        most,
        float(found.log_loss.mean()),
    )


def table(model: Model, vehicles: int, by_advice: float, riches: Riches = Riches()) -> list[tuple[object, ...]]:  # noqa: B008
    """All lines of one circuit: every way of asking, then groups of vehicles as they are asked for today."""
    rng = np.random.default_rng(SEED)
    found = judged(model, vehicles, rng, riches=riches, by_advice=by_advice)
    rows = [row(name, judgement, rng) for name, judgement in found.items()]
    every = next(iter(found.values()))
    groups = {
        "one fault": every.faults == 1,
        "several faults": every.faults > 1,
        "no fault, as designed": (every.special == 0) | (every.special == 1),
        "unlisted": every.special == 2,
        "a slip among the findings": every.slipped,
        "black lead on a bad ground": every.bad_black,
    }
    return rows + [row(f"- {name}", every.where(mask), rng) for name, mask in groups.items() if mask.sum() > 15]


def main() -> None:
    """Print one table per circuit."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--vehicles", type=int, default=10_000)
    parser.add_argument("--by-advice", type=float, default=0.5)
    parser.add_argument("--circuits", nargs="*", default=list(shipped_circuits()))
    parser.add_argument("--without", action="store_true")
    asked = parser.parse_args()
    for circuit in asked.circuits:
        model, began = advisor.load(circuit), time.perf_counter()
        rows = table(model, asked.vehicles, asked.by_advice)
        show(f"Calibration, {circuit}", COLUMNS, rows, f"{time.perf_counter() - began:.0f} s")
        names = [f.name for f in fields(Riches)] if asked.without else []
        left_out = [
            (f"without {name}", *line[:2], *line[2:])
            for name in names
            for line in table(model, asked.vehicles, asked.by_advice, replace(Riches(), **{name: False}))[:2]
        ]
        if left_out:
            show(f"Calibration with one thing less, {circuit}", ("twin", *COLUMNS), left_out)


if __name__ == "__main__":
    main()
