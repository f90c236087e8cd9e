"""Worth of the next test, compile time and memory, and how they grow with parts, tests and hypotheses.

Worth is the whole of `one_step`: all tests valued one step ahead after one complaint, nothing kept between requests but
what belongs to the model.  Compile is from nothing: read, solve, assemble; memory counts the arrays of the model.
"""

from __future__ import annotations

import cProfile
import pstats
import tempfile
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from bench.generated import write
from bench.setting import median_seconds, show, slope

from advisor.decision.advice import Costs
from advisor.decision.advise import decide
from advisor.decision.bench import Bench
from advisor.decision.case import shows
from advisor.decision.valued import Reported, one_step
from advisor.knowledge.loading import load_model
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.shipped import shipped_circuits
from advisor.knowledge.solving import processors
from advisor.network.engine import posterior
from advisor.network.findings import SymptomFinding

COLUMNS = (
    "circuit",
    "parts",
    "H",
    "tests",
    "compile [s]",
    "of it pairs",
    "worth [ms]",
    "one step [ms]",
    "two steps [ms]",
    "MB",
)


def measured(path: Path | str, hypotheses: int) -> tuple[object, ...]:
    """Compile one circuit from nothing, then value its tests."""
    start = time.perf_counter()
    model = load_model(path, None, hypotheses, workers=processors())
    taken = time.perf_counter() - start
    pairs = model.compiled.seconds["larger sets"]
    worth, *whole = worth_seconds(model)
    name, parts = model.schematic.id, len(model.wiring.items)
    counts = (len(model.compiled.members), len(model.compiled.tests))
    return (name, parts, *counts, taken, pairs, 1e3 * worth, *(1e3 * each for each in whole), megabytes(model))


def worth_seconds(model: Model, times: int = 15) -> tuple[float, float, float]:
    """Median seconds of valuing all tests one step ahead, and of the whole advice one and two steps ahead."""
    bench, root = Bench(model, frozenset(), Costs(), model.worlds), model.prior(Vehicle())
    findings = [SymptomFinding(model.worlds.symptoms[0])]
    belief = posterior(model.worlds, root, model.evidence(findings, root), model.axis.prior)
    reported = Reported(1.0 - shows(bench, [findings[0].symptom]), frozenset(), looked=False)
    left = range(len(model.compiled.tests))
    worth = median_seconds(lambda: one_step(bench, belief.weights, left, reported), times)
    one = median_seconds(lambda: decide(model, findings, depth=1), times)
    return worth, one, median_seconds(lambda: decide(model, findings), min(times, 5))


def megabytes(model: Model) -> float:
    """Size of all arrays of a model [MB]."""
    held = [*vars(model.compiled).values(), *vars(model.worlds).values()]
    unique = {id(array): array.nbytes for array in held if isinstance(array, np.ndarray)}
    return sum(unique.values()) / 1e6


def fewer_tests(model: Model, count: int) -> Model:
    """The same model with its first tests only."""
    full = model.compiled
    arrays = {name: getattr(full, name)[:, :count] for name in ("value", "spread", "jumps", "jumper_amps")}
    return replace(model, compiled=replace(full, tests=full.tests[:count], bend=full.bend[:count], **arrays))


def growth(folder: Path, branches: Sequence[int], sizes: Sequence[int], hypotheses: int) -> list[tuple[object, ...]]:
    """Log-log slopes against parts, hypotheses and tests, each with the others held."""
    by_parts = [measured(write(folder / f"b{n}", n), hypotheses) for n in branches]
    largest = folder / f"b{branches[-1]}" / "bench" / "circuits" / "branches.yaml"
    by_sets = [measured(largest, h) for h in sizes]
    model = load_model(largest, None, sizes[0])
    counts = [len(model.compiled.tests) // k for k in (4, 2, 1)]
    by_tests = [worth_seconds(fewer_tests(model, count))[0] for count in counts]
    parts, sets = [row[1] for row in by_parts], [row[2] for row in by_sets]
    return [
        (
            "parts (tests grow too)",
            f"{parts}",
            slope(parts, [r[4] for r in by_parts]),
            slope(parts, [r[6] for r in by_parts]),
        ),
        ("hypotheses", f"{sets}", slope(sets, [r[4] for r in by_sets]), slope(sets, [r[6] for r in by_sets])),
        ("tests", f"{counts}", "-", slope(counts, by_tests)),
    ]


def profile(path: Path | str, hypotheses: int, lines: int = 8) -> list[tuple[object, ...]]:
    """Where a compile in one process takes its time: functions by their own time."""
    watch = cProfile.Profile()
    watch.runcall(load_model, path, None, hypotheses)
    stats = pstats.Stats(watch)
    total = stats.total_tt
    ranked = sorted(stats.stats.items(), key=lambda item: -item[1][2])[:lines]
    return [(f"{Path(file).stem}.{name}", calls, own / total) for (file, _, name), (_, calls, own, _, _) in ranked]


def main() -> None:
    """Print the tables."""
    rows = [measured(c, 1300) for c in shipped_circuits()] + [measured(c, 3000) for c in shipped_circuits()]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        large = write(folder / "large", 6)
        rows.append(measured(large, 20000))
        show("Compile and worth", COLUMNS, rows)
        slopes = growth(folder, (2, 4, 6), (3000, 6000, 12000), 4000)
        show("Log-log slopes", ("against", "sizes", "compile", "worth"), slopes)
        show("Profile of a compile", ("function", "calls", "share"), profile(large, 4000))


if __name__ == "__main__":
    main()
