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

    result = DiscreteBayesianNetwork([("fault", node.name) for node in network.children])
    count, names = len(network.states), {"fault": list(network.states)}
    result.add_cpds(TabularCPD("fault", count, network.root[:, None], state_names=names))
    for node in network.children:
        own = names | {node.name: list(node.states)}
        table = TabularCPD(node.name, len(node.states), node.table.T, ["fault"], [count], state_names=own)
        result.add_cpds(table)
    result.check_model()
    return result
