"""P(cause | findings, test = outcome) for all tests and outcomes: ours against pyAgrum, one thread each.

Ours is `cause_tables` for 100 different finding sets, nothing kept between them.  pyAgrum has two ways: a new
propagation for each (test, outcome) with the part nodes read off, and the posterior of the root for each (test,
outcome), summed by us over the hypotheses that hold each cause; three of its engines are tried with both.
Its inference object is made and warmed before; the time of one table is that of one outcome, median of 20, times the
number of outcomes.  "One pass" is the product of the weights with the likelihood table, once.
"""

from __future__ import annotations

from itertools import cycle

import numpy as np
from bench.setting import median_seconds, show
from outside_engines import pyagrum, through_interface

from advisor.knowledge.loading import load_model
from advisor.knowledge.model import Model
from advisor.knowledge.prevalence import Vehicle
from advisor.knowledge.shipped import shipped_circuits
from advisor.network.engine import posterior
from advisor.network.findings import OutcomeFinding
from advisor.network.nodes import Network, as_nodes
from advisor.network.tables import by_cause, cause_tables
from advisor.network.worlds import Worlds


def finding_sets(model: Model, count: int) -> list[np.ndarray]:
    """Posteriors after `count` different pairs of outcomes that one hypothesis would show."""
    worlds, root, rng = model.worlds, model.prior(Vehicle()), np.random.default_rng(7)
    beliefs: list[np.ndarray] = []
    while len(beliefs) < count:
        truth, tests = int(rng.integers(len(worlds.members))), rng.choice(len(worlds.tests), 2, replace=False)
        likely = [int(worlds.likelihood[truth, worlds.columns[t]].argmax()) for t in tests]
        findings = [OutcomeFinding(worlds.tests[t], worlds.outcomes[t][o]) for t, o in zip(tests, likely, strict=True)]
        belief = posterior(worlds, root, model.evidence(findings, root))
        if belief is not None:
            beliefs.append(belief.weights)
    return beliefs


def measured(model: Model, sets: int, times: int) -> tuple[object, ...]:
    """Measure one model."""
    worlds, groups = model.worlds, by_cause(model.worlds)
    beliefs = finding_sets(model, sets)
    # One table at a time, as one outcome at a time of theirs: what else runs on the machine then hits both alike.
    turn, other = iter(cycle(beliefs)), iter(cycle(beliefs))
    ours = median_seconds(lambda: cause_tables(worlds, groups, next(turn)), sets)
    one_pass = median_seconds(lambda: next(other) @ worlds.likelihood, sets)
    network = as_nodes(worlds, model.prior(Vehicle()), model.intake)
    ways = _theirs(worlds, network, times)
    outcomes = worlds.likelihood.shape[1]
    best = min(ways.values()) * outcomes
    fastest = min(ways, key=lambda way: ways[way])
    return (model.schematic.id, len(worlds.members), outcomes, 1e3 * ours, 1e3 * one_pass, fastest, best, best / ours)


def _theirs(worlds: Worlds, network: Network, times: int) -> dict[str, float]:
    """Seconds of each of pyAgrum's ways for one outcome of one test, two findings standing."""
    net = through_interface(network)
    tests = [node for node in network.children if node.kind == "test"]
    parts = [node.name for node in network.children if node.kind == "part"]
    standing = {node.name: node.states[0] for node in tests[:2]}
    found = {}
    for engine in (pyagrum.LazyPropagation, pyagrum.VariableElimination, pyagrum.ShaferShenoyInference):
        for way, targets in (("part nodes", parts), ("root", ["fault"])):
            inference = engine(net)
            if hasattr(inference, "setNumberOfThreads"):
                inference.setNumberOfThreads(1)
            inference.setTargets(set(targets))
            turn = iter(range(10**9))

            def ask(inference: object = inference, targets: list[str] = targets, turn: object = turn) -> None:
                """One outcome more."""
                test = tests[2 + next(turn) % (len(tests) - 2)]
                inference.setEvidence(standing | {test.name: test.states[0]})
                inference.makeInference()
                found = [inference.posterior(name).toarray() for name in targets]
                if targets == ["fault"]:
                    worlds.with_cause(found[0])

            found[f"{engine.__name__}, {way}"] = median_seconds(ask, times)
    return found


def table(hypotheses: tuple[int, ...] = (600, 3000), sets: int = 100, times: int = 20) -> list[tuple[object, ...]]:
    """Measure every shipped circuit at some sizes."""
    return [measured(load_model(c, None, h), sets, times) for c in shipped_circuits() for h in hypotheses]


def main() -> None:
    """Print the table."""
    columns = (
        "circuit",
        "H",
        "outcomes",
        "ours [ms]",
        "one pass [ms]",
        "pyAgrum's fastest way",
        "its table [s]",
        "ratio",
    )
    show("P(cause | findings, test = outcome)", columns, table(), f"pyAgrum {pyagrum.__version__}")


if __name__ == "__main__":
    main()
