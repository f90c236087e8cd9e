"""Inference engines written elsewhere, given our networks."""

from __future__ import annotations

import warnings

import numpy as np

from advisor.network.nodes import Network

with warnings.catch_warnings():
    # Its compiled wrapper warns of a missing __module__ while it loads; as an error that warning crashes the process.
    warnings.simplefilter("ignore", DeprecationWarning)
    import pyagrum

    # This one warns of its own modules' future names.
    warnings.simplefilter("ignore", FutureWarning)
    from pgmpy.inference import VariableElimination
    from pgmpy.readwrite import BIFReader

__all__ = ["BIFReader", "VariableElimination", "pyagrum", "through_interface"]


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
