"""Many cases through discrete networks: ours against pyAgrum and pgmpy, one thread each, all in one run.

The protocol is that of published batch figures: 2,000 cases drawn from the network, a fifth of its variables seen, all
posteriors.  Ours is `posteriors` on the whole batch, evidence arrays made and compilation left out; the best of three,
or one run where that takes more than twenty seconds; all times are the process's own on the processor, so that other
work on the machine hardly counts.  pyAgrum is given every number as a double; its engines are made
before, each case sets evidence, propagates and fetches every posterior, a sample of the cases is timed and scaled to
all.  pgmpy's variable elimination is asked for each unseen variable of a few cases.  The networks are those of pgmpy's
wheel.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import time
from collections.abc import Sequence

import numpy as np
from bench.setting import machine, show, slope
from discrete import drawn_cases, one_case, seen, shipped_with_pgmpy
from outside_engines import VariableElimination, discrete_in_pgmpy, discrete_in_pyagrum, pgmpy, pyagrum

from advisor.network.tree.compiled import Tree, compile_tree
from advisor.network.tree.evidence import Seen
from advisor.network.tree.families import Discrete, Family, NoisyMax
from advisor.network.tree.joints import joints
from advisor.network.tree.running import posteriors

# How many cases are timed with pyAgrum's Shafer-Shenoy and lazy engines, and with pgmpy; 0 leaves an engine out.
SAMPLES = {
    "asia": (2000, 2000, 20),
    "alarm": (500, 500, 10),
    "insurance": (200, 200, 0),
    "win95pts": (300, 200, 5),
    "hepar2": (300, 200, 5),
    "hailfinder": (300, 200, 5),
    "pathfinder": (200, 20, 0),
    "pigs": (2, 2, 0),
    "munin2": (2, 2, 0),
}
SHARE, PATIENCE = 0.2, 20.0
# Seconds for 2,000 cases as published, sequential reference, sequential and parallel: "Fast-BNI", PPoPP 2023, arXiv
# 2212.04241, two 26-core 2 GHz processors; the evidence drawn there is not ours.
PUBLISHED = {
    "hailfinder": (28.3, 4.0, 2.5),
    "pathfinder": (319.2, 68.9, 11.1),
    "pigs": (43714.0, 3729.0, 221.7),
    "munin2": (3054.0, 2643.0, 241.7),
}


def best_seconds(tree: Tree, cases: Seen) -> float:
    """The least time of three runs, or of fewer long ones."""
    found: list[float] = []
    while len(found) < 3 and sum(found) < PATIENCE:
        start = time.process_time()
        posteriors(tree, cases)
        found.append(time.process_time() - start)
    return min(found)


def by_pyagrum(engine: object, network: Discrete, codes: dict[str, np.ndarray], count: int) -> tuple[float, list]:
    """Seconds for one case, and the posteriors of every case, by one of pyAgrum's engines."""
    engine.setNumberOfThreads(1)
    found = []
    start = time.process_time()
    for i in range(count):
        engine.setEvidence({name: int(c[i]) for name, c in codes.items() if c[i] >= 0})
        engine.makeInference()
        found.append({name: engine.posterior(name).toarray() for name in network.by_name})
    return (time.process_time() - start) / count, found


def by_pgmpy(network: Discrete, codes: dict[str, np.ndarray], count: int) -> float:
    """Seconds for one case, each unseen variable asked for by itself."""
    engine = VariableElimination(discrete_in_pgmpy(network))
    start = time.process_time()
    for i in range(count):
        case = one_case(network, codes, i)
        for name in network.by_name:
            if name not in case:
                engine.query([name], evidence=case, show_progress=False)
    return (time.process_time() - start) / count


def measured(name: str, cases: int, samples: tuple[int, int, int]) -> tuple[object, ...]:
    """One network: seconds of ours and of the others for all cases, ratio to the faster, largest difference."""
    network = shipped_with_pgmpy(name)
    start = time.process_time()
    tree = compile_tree(network)
    compiled = time.process_time() - start
    codes = drawn_cases(network, cases, SHARE, np.random.default_rng(11))
    batch = seen(network, codes)
    ours, bayes = best_seconds(tree, batch), discrete_in_pyagrum(network)
    theirs, apart = [], 0.0
    engines = (pyagrum.ShaferShenoyInference, pyagrum.LazyPropagation)
    for make, count in zip(engines, samples, strict=False):
        taken = min(count, cases)
        seconds, found = by_pyagrum(make(bayes), network, codes, taken)
        theirs.append(seconds * cases)
        few = {variable: c[:taken] for variable, c in codes.items()}
        mine = posteriors(tree, seen(network, few)).by_name
        apart = max(apart, *(abs(mine[v][i] - p).max() for i, case in enumerate(found) for v, p in case.items()))
    third = by_pgmpy(network, codes, min(samples[2], cases)) * cases if samples[2] else None
    return name, compiled, ours, *theirs, third, min(theirs) / ours, apart, _published(name)


def _published(name: str) -> str:
    return " / ".join(f"{seconds:,g}" for seconds in PUBLISHED.get(name, ()))


def parts_and_tests(parts: int, tests: int) -> Discrete:
    """Causes side by side, and tests that each answer to four neighbours of them by noisy-OR."""
    rng, yes = np.random.default_rng(3), ("no", "yes")
    causes = [Family(f"c{i}", yes, (), np.array([0.98, 0.02])) for i in range(parts)]
    noisy = []
    for t in range(tests):
        near = [f"c{(t * parts // tests + k) % parts}" for k in range(4)]
        links = tuple(np.array([[1.0, 0.0], [1.0 - c, c]]) for c in rng.uniform(0.5, 0.99, 4))
        noisy.append(NoisyMax(f"t{t}", yes, tuple(near), np.array([0.99, 0.01]), links))
    return Discrete((*causes, *noisy))


def growth(counts: Sequence[int], cases: Sequence[int]) -> list[tuple[object, ...]]:
    """Seconds as parts, tests, both, and cases grow, each with the exponent over its whole range."""
    base = counts[0]
    rows = []
    ways = {
        "parts": lambda n: (n, base),
        "tests": lambda n: (base, n),
        "parts and tests": lambda n: (n, n),
    }
    for way, sizes in ways.items():
        seconds = [_seconds(parts_and_tests(*sizes(n)), 500) for n in counts]
        rows.append((way, *(1e3 * s for s in seconds), slope(counts, seconds)))
    network = parts_and_tests(base, base)
    seconds = [_seconds(network, n) for n in cases]
    rows.append((f"cases, {' '.join(map(str, cases))}", *(1e3 * s for s in seconds), slope(cases, seconds)))
    return rows


def _seconds(network: Discrete, cases: int) -> float:
    tree, rng = compile_tree(network), np.random.default_rng(5)
    names = [f.name for f in network.families if isinstance(f, NoisyMax)]
    return best_seconds(tree, Seen(network, cases, {name: rng.integers(-1, 2, cases) for name in names}))


def profile(name: str, cases: int) -> list[tuple[object, ...]]:
    """Where the time of a run goes: the functions that take most by themselves, as shares."""
    network = shipped_with_pgmpy(name)
    tree, batch = compile_tree(network), seen(network, drawn_cases(network, cases, SHARE, np.random.default_rng(1)))
    recorder = cProfile.Profile()
    recorder.runcall(posteriors, tree, batch)
    stats = pstats.Stats(recorder).stats
    total = sum(row[2] for row in stats.values())
    rows = sorted(((row[2] / total, f"{key[2]}") for key, row in stats.items()), reverse=True)[:6]
    return [(name, *(f"{what} {share:.2f}" for share, what in rows))]


def pairs() -> list[tuple[object, ...]]:
    """Every root with every leaf, given one leaf: milliseconds, and cases run for it."""
    rows = []
    for name in ("alarm", "win95pts", "hepar2", "hailfinder"):
        network = shipped_with_pgmpy(name)
        tree, parents = compile_tree(network), {p for f in network.families for p in f.parents}
        roots = [f.name for f in network.families if not f.parents]
        leaves = [f.name for f in network.families if f.name not in parents]
        case = Seen(network, 1, {leaves[0]: np.zeros(1, dtype=np.intp)})
        seconds = min(_timed(lambda t=tree, c=case, r=roots, v=leaves[1:]: joints(t, c, r, v)) for _ in range(5))
        rows.append((name, len(roots), len(leaves) - 1, joints(tree, case, roots, leaves[1:]).cases, 1e3 * seconds))
    return rows


def _timed(call) -> float:
    start = time.process_time()
    call()
    return time.process_time() - start


def main() -> None:
    """Print all tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--networks", nargs="*", default=list(SAMPLES))
    chosen = parser.parse_args()
    print(machine(), f"pyAgrum {pyagrum.__version__}, pgmpy {pgmpy.__version__}", flush=True)
    heads = ("network", "compile s", "ours s", "Shafer-Shenoy s", "lazy s", "pgmpy s", "ratio", "apart", "published s")
    for name in chosen.networks:
        show(f"{chosen.cases} cases, all posteriors", heads, [measured(name, chosen.cases, SAMPLES[name])])
    heads = ("what grows: 100, 200, 400, 800", *("ms",) * 4, "exponent")
    show("growth, 500 cases", heads, growth((100, 200, 400, 800), (250, 500, 1000, 2000)))
    show("roots with leaves", ("network", "roots", "leaves", "cases", "ms"), pairs())
    show(
        "share of the time",
        ("network", *("",) * 6),
        [row for n in ("win95pts", "pathfinder") for row in profile(n, 500)],
    )


if __name__ == "__main__":
    main()
