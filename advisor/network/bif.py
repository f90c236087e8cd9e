"""The network as text in the Bayesian interchange format (BIF).

Numbers are written with all their digits.  Conditional tables are written row by row, each with its parent's
state, since readers disagree about the order inside an unlabelled table.

References:
    F. Cozman, "The Interchange Format for Bayesian Networks", 1998 (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import product

from advisor.network.nodes import Network, Node
from advisor.network.worlds import Floats


def bif_text(network: Network, *, title: str, remarks: Sequence[str] = ()) -> str:
    """Write a network; remarks become comment lines at its head."""
    return "\n".join(_lines(network, title, remarks)) + "\n"


def _lines(network: Network, title: str, remarks: Sequence[str]) -> Iterator[str]:
    yield from (f"// {' '.join(remark.split())}" for remark in remarks)
    yield f"network circuit__{re.sub(r'[^A-Za-z0-9_]', '_', title)} {{\n}}"
    yield _variable("fault", network.states)
    yield from (_variable(node.name, node.states) for node in network.nodes)
    yield f"probability ( fault ) {{\n  table {_numbers(network.root)};\n}}"
    yield from (_root(node) for node in network.roots)
    yield from (_table(node, [network.states_of(parent) for parent in node.parents]) for node in network.children)


def _variable(name: str, states: Sequence[str]) -> str:
    return f"variable {name} {{\n  type discrete [ {len(states)} ] {{ {', '.join(states)} }};\n}}"


def _root(node: Node) -> str:
    return f"probability ( {node.name} ) {{\n  table {_numbers(node.table)};\n}}"


def _table(node: Node, states: Sequence[Sequence[str]]) -> str:
    flat = node.table.reshape(-1, len(node.states))
    rows = (f"  ({', '.join(given)}) {_numbers(row)};" for given, row in zip(product(*states), flat, strict=True))
    return "\n".join([f"probability ( {node.name} | {', '.join(node.parents)} ) {{", *rows, "}"])


def _numbers(values: Floats) -> str:
    return ", ".join(map(repr, values.tolist()))
