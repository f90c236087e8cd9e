"""Inference engines written elsewhere, given our networks."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np

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
    "pyagrum",
    "through_interface",
]


def pgmpy_networks() -> Path:
    """Where pgmpy keeps the networks that come with it."""
    return Path(pgmpy.__file__).parent / "utils" / "example_models"


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
