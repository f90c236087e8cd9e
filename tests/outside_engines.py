"""Inference engines written elsewhere, given our networks."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pandas as pd

from advisor.network.nodes import Network
from advisor.network.tree.families import Discrete

with warnings.catch_warnings():
    # Its compiled wrapper warns of a missing __module__ while it loads; as an error that warning crashes the process.
    warnings.simplefilter("ignore", DeprecationWarning)
    import pyagrum

    # This one warns of its own modules' future names.
    warnings.simplefilter("ignore", FutureWarning)
    import pgmpy
    from pgmpy.factors.discrete import TabularCPD
    from pgmpy.inference import VariableElimination
    from pgmpy.models import DiscreteBayesianNetwork
    from pgmpy.readwrite import BIFReader

__all__ = [
    "BIFReader",
    "VariableElimination",
    "discrete_in_pgmpy",
    "discrete_in_pyagrum",
    "pgmpy",
    "pgmpy_networks",
    "pgmpy_shares",
    "pyagrum",
    "pyagrum_shares",
    "through_interface",
]


def pgmpy_networks() -> Path:
    """Where pgmpy keeps the networks that come with it."""
    return Path(pgmpy.__file__).parent / "utils" / "example_models"


def pgmpy_shares(seen: np.ndarray, pseudo: np.ndarray) -> np.ndarray:
    """Posterior means of the shares of a variable's states under a Dirichlet prior, as pgmpy estimates them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FutureWarning)  # the estimator of the versions after ours has another name
        from pgmpy.estimators import BayesianEstimator

        network, names = DiscreteBayesianNetwork(), [str(n) for n in range(len(pseudo))]
        network.add_node("cause")
        estimator = BayesianEstimator(network, pd.DataFrame({"cause": seen.astype(str)}), state_names={"cause": names})
        found = estimator.estimate_cpd("cause", prior_type="dirichlet", pseudo_counts=pseudo[:, None])
    return found.values


def pyagrum_shares(seen: np.ndarray, states: int, weight: float, rows: Path) -> np.ndarray:
    """The same as pyAgrum learns them with equal pseudo-counts, from a table that is written to `rows`."""
    names = [f"c{n}" for n in range(states)]
    rows.write_text("cause,constant\n" + "".join(f"{names[n]},a\n" for n in seen), encoding="utf-8")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # an error out of a warning crashes its compiled part
        template = pyagrum.BayesNet()
        template.add(pyagrum.LabelizedVariable("cause", "", names))
        template.add(pyagrum.LabelizedVariable("constant", "", ["a", "b"]))
        learner = pyagrum.BNLearner(str(rows), template)
        learner.useSmoothingPrior(weight)
        learned = learner.learnParameters(template.dag())  # its table lives no longer than it
        return learned.cpt("cause").toarray()


def discrete_in_pyagrum(network: Discrete) -> pyagrum.BayesNet:
    """A discrete network in pyAgrum, every number handed over as a double, states by their numbers."""
    other = pyagrum.BayesNet("network")
    for family in network.families:
        other.add(pyagrum.LabelizedVariable(family.name, "", [f"s{i}" for i in range(len(family.states))]))
    for family in network.families:
        for parent in family.parents:
            other.addArc(parent, family.name)
        table = other.cpt(family.name)
        order = [[*family.parents, family.name].index(name) for name in reversed(table.names)]
        table[:] = np.ascontiguousarray(family.table.transpose(order))
    return other


def discrete_in_pgmpy(network: Discrete) -> DiscreteBayesianNetwork:
    """A discrete network in pgmpy."""
    other = DiscreteBayesianNetwork([(parent, f.name) for f in network.families for parent in f.parents])
    other.add_nodes_from(network.by_name)
    for family in network.families:
        own = {name: list(network.by_name[name].states) for name in (family.name, *family.parents)}
        flat = family.table.reshape(-1, len(family.states)).T
        counts = [network.cards[parent] for parent in family.parents]
        other.add_cpds(TabularCPD(family.name, len(family.states), flat, list(family.parents), counts, state_names=own))
    return other


def through_interface(network: Network) -> pyagrum.BayesNet:
    """The network in pyAgrum, every number handed over as a double."""
    other = pyagrum.BayesNet("network")
    other.add(pyagrum.LabelizedVariable("fault", "", list(network.states)))
    other.cpt("fault")[:] = network.root
    for node in network.nodes:
        other.add(pyagrum.LabelizedVariable(node.name, "", list(node.states)))
        for parent in node.parents:
            other.addArc(parent, node.name)
        table = other.cpt(node.name)
        order = [[*node.parents, node.name].index(name) for name in reversed(table.names)]
        table[:] = np.ascontiguousarray(node.table.transpose(order))
    return other
