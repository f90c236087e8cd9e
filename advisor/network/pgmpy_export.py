"""The network as an object of the pgmpy library, for checking; answers never pass through here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.network.nodes import Network

if TYPE_CHECKING:
    from pgmpy.models import DiscreteBayesianNetwork


def to_pgmpy(network: Network) -> DiscreteBayesianNetwork:
    """Build a checked pgmpy network; slow beyond some hundred hypotheses."""
    # Imported on use: pgmpy takes seconds to load and nothing that answers requests needs it.
    from pgmpy.factors.discrete import TabularCPD  # noqa: PLC0415
    from pgmpy.models import DiscreteBayesianNetwork  # noqa: PLC0415

    arcs = [(parent, node.name) for node in network.children for parent in node.parents]
    result = DiscreteBayesianNetwork(arcs)
    names = {"fault": list(network.states)} | {node.name: list(node.states) for node in network.nodes}
    result.add_cpds(TabularCPD("fault", len(network.states), network.root[:, None], state_names=names))
    for node in network.nodes:
        own = {name: names[name] for name in (node.name, *node.parents)}
        counts = [len(names[parent]) for parent in node.parents]
        flat = node.table.reshape(-1, len(node.states)).T
        result.add_cpds(TabularCPD(node.name, len(node.states), flat, list(node.parents), counts, state_names=own))
    result.check_model()
    return result
